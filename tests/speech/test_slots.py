import itertools
import random

import pytest

from speech.slots import Automaton, Choice, LabelList, Number, Spelling, load_slots, minimal

SLOTS = load_slots(["1", "2", "3", "4", "12", "20", "21", "3B", "R1 upper left"])


def accepted(drawn: Automaton, most: int = 200_000):
    """Every word sequence of an acyclic graph, shortest first."""
    after = {}
    for a, word, b in drawn.arcs:
        after.setdefault(a, []).append((word, b))
    waiting, count = [((), 0)], 0
    while waiting and count < most:
        said, state = waiting.pop(0)
        count += 1
        if state in drawn.ends and said:
            yield said
        waiting += [((*said, word), to) for word, to in after.get(state, ())]


def walks(drawn: Automaton, seed: int, count: int):
    """Random ways through a graph to an end."""
    chance = random.Random(seed)  # noqa: S311 - draws sentences
    after = {}
    for a, word, b in drawn.arcs:
        after.setdefault(a, []).append((word, b))
    for _ in range(count):
        said, state = [], 0
        while state not in drawn.ends or (after.get(state) and chance.random() < 0.6):
            word, state = chance.choice(after[state])
            said.append(word)
        yield said


def test_the_smallest_graph_accepts_exactly_its_sequences():
    sequences = {("a", "b"), ("a", "c", "d"), ("e",), ("e", "d")}
    assert set(accepted(minimal(sequences))) == sequences


def test_equal_tails_are_shared():
    tails = [(first, "x", "y") for first in "abcdef"]
    assert len(minimal(tails).arcs) == 6 + 2


@pytest.mark.parametrize("name", [n for n, s in SLOTS.items() if isinstance(s, Choice)])
def test_a_choice_accepts_its_wordings_and_nothing_else(name):
    slot = SLOTS[name]
    listed = {tuple(say.split()) for _, says in slot.values for say in says}
    assert set(accepted(slot.automaton())) == listed
    assert all(slot.value(words) is not None or 0 in dict(slot.values) for words in listed)


def test_no_wording_of_a_choice_stands_for_two_values():
    for slot in SLOTS.values():
        if isinstance(slot, Choice):
            says = [say for _, listed in slot.values for say in listed]
            assert len(says) == len(set(says))


def test_a_list_of_contacts_accepts_pairs_and_more_but_no_single_one():
    slot = LabelList(("1", "2", "12"), 3, "and", "to")
    assert slot.value(["one", "and", "two"]) == ["1", "2"]
    assert slot.value(["twelve", "and", "one", "and", "two"]) == ["12", "1", "2"]
    for said in (
        "one",
        "one and",
        "and one",
        "one and one",
        "one two",
        "one and two and twelve and one",
        "one and three",
    ):
        assert slot.value(said.split()) is None


def test_a_range_of_contacts_must_lie_on_the_chart():
    slot = LabelList(tuple("123456"), 4, "and", "through")
    assert slot.value(["two", "through", "five"]) == ["2", "3", "4", "5"]
    for said in (
        "five through two",
        "two through nine",
        "through five",
        "two through",
        "one and two through four",
        "two to five",
    ):
        assert slot.value(said.split()) is None


@pytest.mark.parametrize(
    "name", [n for n, s in SLOTS.items() if isinstance(s, Number | Spelling | LabelList)]
)
def test_every_sample_of_a_slot_has_a_value_and_lies_in_its_graph(name):
    slot, chance = SLOTS[name], random.Random(7)  # noqa: S311 - draws sentences
    ways = set()
    for _ in range(300):
        said = tuple(slot.sample(chance.choice).split())
        assert slot.value(said) is not None, said
        ways.add(said)
    after = {}
    for a, word, b in slot.automaton().arcs:
        after.setdefault((a, word), set()).add(b)
    for said in ways:
        states = {0}
        for word in said:
            states = set().union(*(after.get((s, word), set()) for s in states))
        assert states & slot.automaton().ends, said


@pytest.mark.parametrize("name", [n for n, s in SLOTS.items() if isinstance(s, Number | Spelling)])
def test_what_a_graph_lets_through_is_a_value_or_out_of_bounds_never_another_kind(name):
    slot = SLOTS[name]
    for said in walks(slot.automaton(), 11, 400):
        value = slot.value(said)
        if isinstance(slot, Number) and value is not None:
            assert slot.low <= value <= slot.high
        if isinstance(slot, Spelling) and value is not None:
            assert value.isalnum()


@pytest.mark.parametrize("name", list(SLOTS))
def test_the_words_said_for_a_value_mean_that_value(name):
    slot, chance = SLOTS[name], random.Random(3)  # noqa: S311 - draws sentences
    for _ in range(60):
        said = slot.sample(chance.choice).split()
        value = slot.value(said)
        words = slot.say(value)
        assert words is not None
        assert slot.value(words.split()) == value


def test_a_number_slot_says_no_to_values_outside_its_bounds():
    percent = Number(0, 100, 1)
    assert percent.value(["one", "hundred"]) == 100
    for said in (
        "one hundred one",
        "two hundred",
        "five point five five",
        "two and a half",
        "nine nine nine",
    ):
        assert percent.value(said.split()) is None


def test_a_tag_needs_its_letters_before_its_digits():
    tag = Spelling((1, 3), (2, 5))
    assert tag.value(["romeo", "whiskey", "two", "zero", "four"]) == "RW204"
    for said in (
        "romeo",
        "two zero four",
        "romeo two",
        "two romeo two",
        "romeo two whiskey zero",
        "romeo two zero four one one one",
    ):
        assert tag.value(said.split()) is None


def test_different_digits_never_give_one_number():
    volts = SLOTS["volts"]
    words = ["zero", "one", "nine"]
    values = [volts.value(said) for said in itertools.product(words, repeat=3)]
    assert len(values) == len(set(values))
