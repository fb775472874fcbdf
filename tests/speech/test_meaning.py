import pytest

from speech.meaning import Understanding, doubt_in
from speech.phrase import Meaning, Phrase
from speech.phrasebook import all_phrases

BOOK = Understanding(all_phrases(["1", "2", "9", "12", "13", "30", "3B"]), ("correction",))


@pytest.mark.parametrize(
    ("said", "intent", "slots"),
    [
        ("contact nine closed", "contact", {"contacts": ["9"], "state": "closed"}),
        ("contact nine made", "contact", {"contacts": ["9"], "state": "closed"}),
        ("contact nine broken", "contact", {"contacts": ["9"], "state": "open"}),
        ("contact nine not closed", "contact", {"negated": True, "contacts": ["9"], "state": "closed"}),
        ("three bravo not open", "contact", {"negated": True, "contacts": ["3B"], "state": "open"}),
        ("contacts one and nine open", "contact", {"contacts": ["1", "9"], "state": "open"}),
        (
            "one and two made nine and twelve made",
            "contact",
            {"contacts": ["1", "2", "9", "12"], "state": "closed"},
        ),
        ("one and two made nine and twelve broken", "contact", {"closed": ["1", "2"], "open": ["9", "12"]}),
        ("power is not off", "isolation", {"negated": True, "item": "power", "state": "off"}),
        (
            "power is off correction power is not off",
            "isolation",
            {"corrected": True, "negated": True, "item": "power", "state": "off"},
        ),
        (
            "contact nine open correction contact nine closed",
            "contact",
            {"corrected": True, "contacts": ["9"], "state": "closed"},
        ),
        ("valve tag romeo whiskey two zero four", "tag", {"of": "valve", "value": "RW204"}),
        ("red lamp not on", "lamp", {"negated": True, "red": "on"}),
        ("both lamps off", "lamp", {"red": "off", "green": "off"}),
        (
            "line one to earth zero point two volts",
            "measure",
            {"quantity": "voltage", "from": "line_one", "to": "earth", "value": 0.2, "unit": "V"},
        ),
    ],
)
def test_a_phrase_means_its_intent_and_slots(said, intent, slots):
    assert BOOK.of(said).meaning == Meaning(intent, slots)


@pytest.mark.parametrize(
    "said",
    [
        "",
        "contact",
        "contact nine",
        "nine closed",
        "closed",
        "open",
        "yes",
        "okay",
        "confirmed",
        "roger",
        "contact nine closed please",
        "is contact nine closed",
        "contact nine should be closed",
        "contact nine nearly closed",
        "contact nine isn't closed",
        "contact nine was closed",
        "i think contact nine closed",
        "he says contact nine closed",
        "contact nine closed contact twelve closed",
        "contact seven closed",
        "contact fifty closed",
        "contact nine closed and open",
        "contact nine not",
        "not contact nine closed",
        "not closed contact nine",
        "contacts nine closed",
        "contacts nine and nine closed",
        "one and two made two and nine broken",
        "power off",
        "power is",
        "power is off is it",
        "is power off",
        "power isn't off",
        "power was off",
        "power is off correction",
        "correction power is off",
        "power is off correction contact nine closed",
        "power is off correction correction power is on yet",
        "power is off no power is on",
        "line one to earth volts",
        "line one to earth two thousand volts",
        "line one to earth minus one volts",
        "line one to earth zero point volts",
        "line one to earth zero point one two three volts",
        "fifty five fifty percent open",
        "one hundred one percent open",
        "valve tag romeo",
        "valve tag two zero four",
        "valve tag romeo whiskey two zero four alfa",
        "stop now",
        "don't stop",
        "stop work please",
        "do not confirm",
        "confirm that",
        "hand wheel",
        "at full",
        "not at",
        "tripped",
        "tripped on",
        "take photo of rotor nine",
        "rotor nine along",
        "rotor two along across",
    ],
)
def test_what_is_not_exactly_a_phrase_means_nothing(said):
    assert BOOK.of(said) is None


def test_words_that_fit_two_phrases_of_different_meaning_mean_nothing():
    both = Understanding(
        [Phrase("all good", Meaning("a")), Phrase("{x} good", Meaning("b"), slots=(("x", _All()),))]
    )
    assert both.of("all good") is None


class _All:
    def value(self, words):
        return "all" if list(words) == ["all"] else None


def test_a_slot_said_twice_must_be_the_same_both_times():
    red, green = {"red": "on", "green": "on"}, BOOK.of("both lamps on").meaning.slots
    assert green == red


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("contact nine isn't closed", "denial"),
        ("contact nine is never closed", "denial"),
        ("is contact nine not closed", "denial"),
        ("is contact nine closed", "question"),
        ("did it trip", "question"),
        ("the electrician says power is off", "hearsay"),
        ("i think power is off", "hedge"),
        ("power should be off", "hedge"),
        ("please take photo", "wish"),
        ("power was off", "past"),
        ("contact nine closed soon", "later"),
    ],
)
def test_the_kind_of_doubt_is_named(said, kind):
    assert doubt_in(said.split())[0] == kind


def test_a_sentence_without_doubt_has_none():
    assert doubt_in(["contact", "nine", "closed"]) is None


def test_a_denial_counts_even_where_it_is_a_word_of_the_phrases():
    assert doubt_in(["contact", "nine", "not"], frozenset({"not", "contact", "nine"})) == ("denial", "not")
