"""The written machines against Vosk itself: what goes in as phrases comes out as words and nothing else."""

import json

import numpy as np
import pytest
import vosk

from speech import openfst
from speech.audio import load_clip
from speech.competitors import add_competitors, load_rules
from speech.decision import phone_words
from speech.lexicon import FILLER, Lexicon
from speech.lexicon_graph import word_graph
from speech.model_folder import open_model
from speech.phrase import Meaning, Phrase
from speech.recogniser import Graphs
from speech.slots import Choice, Number
from speech.word_graph import WordGraph, exact_graph

STATE = Choice((("closed", ("closed", "made")), ("open", ("open",))))
COUNT = Number(0, 100)


def phrase(text, **slots):
    return Phrase(text, Meaning("x"), slots=tuple(slots.items()), group="g", corrects=True)


def accepts(graph, said):
    states = graph.after_silence(0)
    for word in said.split():
        taken = {to for s in states for (w, to), cost in graph.arcs[s].items() if w == word and not cost}
        states = graph.after_silence(*taken)
    return any(graph.ends[s] == 0.0 for s in states)


def cheapest(graph, said):
    """The cost of the cheapest way for these words, in nats; None when there is none."""

    def closed(costs):
        found, waiting = dict(costs), list(costs)
        while waiting:
            state = waiting.pop()
            for (word, to), cost in graph.arcs[state].items():
                if not word and found[state] + cost < found.get(to, 1e9):
                    found[to] = found[state] + cost
                    waiting.append(to)
        return found

    costs = closed({0: 0.0})
    for word in said.split():
        taken = {}
        for state, cost in costs.items():
            for (other, to), price in graph.arcs[state].items():
                if other == word:
                    taken[to] = min(taken.get(to, 1e9), cost + price)
        costs = closed(taken)
    ended = [cost + graph.ends[s] for s, cost in costs.items() if graph.ends[s] is not None]
    return min(ended, default=None)


def test_the_exact_graph_accepts_its_phrases_and_no_other():
    graph = exact_graph([phrase("lock is on"), phrase("lock is off"), phrase("contact {s}", s=STATE)])
    for said in ("lock is on", "lock is off", "contact closed", "contact made", "contact open"):
        assert accepts(graph, said)
    for said in (
        "",
        "lock",
        "lock is",
        "is on",
        "lock is on off",
        "contact",
        "contact broken",
        "lock is closed",
        "contact is on",
    ):
        assert not accepts(graph, said)


def test_a_correction_leads_to_a_phrase_of_the_same_group_only():
    other = Phrase("tag is on", Meaning("y"), group="h", corrects=True)
    graph = exact_graph([phrase("lock is on"), phrase("lock is off"), other], ("correction",))
    assert accepts(graph, "lock is on correction lock is off")
    for said in (
        "lock is on correction",
        "correction lock is on",
        "lock is on correction tag is on",
        "lock is on lock is off",
    ):
        assert not accepts(graph, said)


def test_two_phrases_share_their_beginning_and_one_slot():
    graph = exact_graph([phrase("turn {n} left", n=COUNT), phrase("turn {n} right", n=COUNT)])
    alone = exact_graph([phrase("turn {n} left", n=COUNT)])
    assert (
        len(graph.ends) == len(alone.ends) + 2
    )  # one word more, in the phrases and again in their corrections


def test_what_may_follow_is_named():
    graph = exact_graph([phrase("contact nine {s}", s=STATE), phrase("contact ten {s}", s=STATE)])
    assert graph.following(["contact", "nine"]) == {"closed", "made", "open"}
    assert graph.following(["contact"]) == {"nine", "ten"}
    assert graph.following(["banana"]) == set()


def test_no_competitor_adds_a_free_way_to_a_phrase():
    phrases = [phrase("power is off"), phrase("contact {n} {s}", n=COUNT, s=STATE)]
    rules = load_rules()
    plain, rivals = exact_graph(phrases), add_competitors(exact_graph(phrases), rules)
    for said in ("power is off", "contact nine closed"):
        assert accepts(plain, said)
        assert accepts(rivals, said)
    for said in (
        "is power off",
        "power off",
        "power is not off",
        "power was off",
        "power is on",
        "power is",
        "off",
    ):
        assert not accepts(rivals, said)


def test_behind_a_contracted_denial_no_second_denial_is_cheap():
    plain = [phrase("power is off"), phrase("power is not off")]
    rivals = add_competitors(exact_graph(plain), load_rules())
    for said in ("power isn't off", "power won't be off"):
        assert cheapest(rivals, said) < cheapest(rivals, "power was not off")
    assert cheapest(rivals, "power isn't not off") > cheapest(rivals, "power isn't")
    assert cheapest(rivals, "power is not off") == 0


def test_every_rival_word_can_be_pronounced():
    known, silent = Lexicon().pronounce(sorted(load_rules().words()))
    assert silent == []
    assert set(known) == load_rules().words()


@pytest.mark.outside(source="OpenFst 1.7.9, fst/fst.h: FstHeader magic number 2125659606", confidence="C")
def test_a_written_machine_begins_with_the_magic_number_of_openfst():
    raw = openfst.const_machine([(0.0, [(1, 1, 0.5, 0)])], openfst.ACCEPTOR)
    assert int.from_bytes(raw[:4], "little") == 2125659606
    assert raw[8:13] == b"const"


@pytest.fixture(scope="module")
def graphs():
    words, silent = Lexicon().pronounce(
        ["lock", "is", "on", "off", "breaker", "closed", "open", "contact", "two"]
    )
    assert silent == []
    machine, ids = word_graph(words | phone_words() | {FILLER: [["SPN"]]})
    return Graphs(open_model(), machine, ids), ids


@pytest.mark.outside(
    source="Vosk 0.3.45 (PyPI) loads and decodes the machines that this project writes", confidence="C"
)
def test_vosk_knows_every_word_of_the_written_lexicon_by_its_number(graphs):
    made, ids = graphs
    model = made.recogniser("numbers", exact_graph([phrase("lock is on")])).model
    for word, number in ids.items():
        if word:
            assert model.vosk_model_find_word(word) == number
    assert model.vosk_model_find_word("banana") == -1


@pytest.mark.outside(
    source="Vosk 0.3.45 (PyPI) loads and decodes the machines that this project writes", confidence="C"
)
def test_vosk_hears_only_what_the_written_graph_holds(graphs, clip):
    made, _ = graphs
    listed = ["lock is off", "lock is on", "breaker is closed", "breaker is open", "contact two closed"]
    heard = made.recogniser("five", exact_graph([phrase(text) for text in listed]))
    for name, text in (
        ("lock_is_off_clean", "lock is off"),
        ("breaker_is_closed_clean", "breaker is closed"),
        ("contact_two_closed_clean", "contact two closed"),
    ):
        assert heard.best_path(load_clip(clip(name)).samples).text == text
    chance = np.random.default_rng(1)
    for _ in range(5):
        noise = (chance.normal(size=16_000) * 1_500).astype(np.int16)
        assert heard.best_path(noise).text in ["", *listed]


def test_nine_tenths_of_the_costs_in_a_graph_are_taken_off_the_score(graphs, clip):
    made, _ = graphs
    samples = load_clip(clip("lock_is_off_clean")).samples
    scores = []
    for cost in (0.0, 5.0):
        graph = WordGraph()
        at = 0
        for word in ("lock", "is", "off"):
            to = graph.state()
            graph.link(at, word, to, cost)
            at = to
        graph.ends[at] = 0.0
        scores.append(made.recogniser(f"cost{cost:.0f}", graph).best_path(samples).score)
    assert scores[0] - scores[1] == pytest.approx(0.9 * 15.0, abs=0.05)  # Vosk scales graph costs by 0.9


def test_a_run_time_grammar_of_vosk_works_on_the_written_lexicon(graphs, clip):
    made, _ = graphs
    model = made.recogniser("grammar", exact_graph([phrase("lock is on")])).model
    listener = vosk.KaldiRecognizer(model, 16_000, json.dumps(["lock is off", "breaker is closed", "[unk]"]))
    listener.AcceptWaveform(load_clip(clip("breaker_is_closed_clean")).samples.tobytes())
    assert json.loads(listener.FinalResult())["text"] == "breaker is closed"
