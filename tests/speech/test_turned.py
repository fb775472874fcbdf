"""A phrase is taken only where it leads what it could be taken for; the phrases here are invented examples."""

import pytest

from speech.audio import load_clip
from speech.decision import Thresholds
from speech.hearing import Hearer
from speech.phrase import Meaning, Phrase
from speech.phrasebook import all_phrases, phrases_for
from speech.recogniser import BestPath
from speech.turned import load_turns, turned_graph
from speech.word_graph import exact_graph
from tests.speech.samples import SAMPLES, sample_lines

TURNS = load_turns()


def phrase(text):
    return Phrase(text, Meaning("said", {"text": text}))


def texts(graph, most=6):
    """Every text of up to `most` words that a graph without loops at its ends allows."""
    found, waiting = set(), [(0, ())]
    while waiting:
        state, said = waiting.pop()
        if graph.ends[state] is not None:
            found.add(" ".join(said))
        for word, to in graph.arcs[state]:
            longer = (*said, word) if word else said
            if len(longer) <= most:
                waiting.append((to, longer))
    return found


def test_every_turned_text_harms_and_none_is_the_phrase_itself():
    said = texts(turned_graph(exact_graph([phrase("lock is off")]), TURNS))
    assert {"lock is on", "lock was off", "lock should be off"} <= said
    assert "lock is off" not in said
    assert all(TURNS.harms("lock is off", text) for text in said)


def test_a_listed_opposite_is_left_to_the_phrases_themselves():
    graph = turned_graph(exact_graph([phrase("lock is off"), phrase("lock is on")]), TURNS)
    assert not {"lock is off", "lock is on"} & texts(graph)


def test_a_state_without_a_verb_can_be_weakened_too():
    said = texts(turned_graph(exact_graph([phrase("green lamp on")]), TURNS))
    assert {"green lamp should be on", "green lamp was on", "green lamp off"} <= said


def test_no_voltage_stated_without_a_verb_can_be_weakened_too():
    said = texts(turned_graph(exact_graph([phrase("line one to earth zero volts")]), TURNS), most=8)
    assert {"line one to earth should be zero volts", "line one to earth was zero volts"} <= said
    assert all(TURNS.harms("line one to earth zero volts", text) for text in said)


@pytest.mark.parametrize(
    ("heard", "meant", "harms"),
    [
        ("lock is off", "lock is on", True),
        ("lock is off", "lock isn't off", True),
        ("contact nine open", "contact nine broken", False),
        ("contact nine open", "contact five open", False),
        ("contact nine closed", "contact nine was closed", True),
        ("lock is not off", "lock was not off", False),
        ("lock is not off", "lock was not on", True),
        ("red lamp on green lamp off", "red lamp off green lamp on", True),
    ],
)
def test_harm_is_a_lost_side_a_lost_denial_or_a_lost_weaker_verb(heard, meant, harms):
    assert TURNS.harms(heard, meant) is harms


def test_a_phrase_too_near_its_opposite_is_refused_and_both_are_named():
    line = next(one for one in sample_lines() if one["truth"]["text"] == "lock is off")
    listed = [phrase("lock is off"), phrase("lock is on")]
    samples = load_clip((SAMPLES / line["file"]).read_bytes()).samples
    assert Hearer(listed).hear_samples(samples).text == "lock is off"
    careful = Hearer(listed, thresholds=Thresholds(listed_lead=60.0)).hear_samples(samples)
    assert careful.verdict == "refused"
    assert careful.kind == "near"
    assert careful.reason.startswith("lock is: off or on?")


@pytest.mark.parametrize(
    "other",
    [Phrase("stop", Meaning("control", {"action": "stop_work"}), stops=True), phrase("clock is off")],
    ids=["a stop", "another thing"],
)
@pytest.mark.parametrize(("nearer", "verdict"), [(2.0, "refused"), (6.0, "heard")])
def test_a_phrase_too_near_another_meaning_is_refused(monkeypatch, other, nearer, verdict):
    line = next(one for one in sample_lines() if one["truth"]["text"] == "lock is off")
    samples = load_clip((SAMPLES / line["file"]).read_bytes()).samples
    hearer = Hearer([phrase("lock is off"), other])
    found = hearer._judge.phrases.best_paths

    def with_the_other(sound, most=1):
        first, *_ = found(sound, most)
        return [first, BestPath(other.text, first.score - nearer, first.words)]

    monkeypatch.setattr(hearer._judge.phrases, "best_paths", with_the_other)
    assert hearer.hear_samples(samples).verdict == verdict


def test_a_lost_past_tense_is_asked_about(clip):
    sound = clip("meter_was_approved_for_this_area_phone")
    listed = all_phrases(["1", "2"])
    assert Hearer(listed).hear(sound).reason.startswith("meter: is approved for this area or was approved")
    hasty = Hearer(listed, thresholds=Thresholds(turned_lead=0.5)).hear(sound)
    assert hasty.text == "meter is approved for this area"


def test_where_a_slip_is_harmless_a_shorter_lead_is_enough():
    clip = (SAMPLES / "clips" / "rw-204" / "valve_tag.ogg").read_bytes()
    listed = phrases_for(contacts=("1", "2"), step="prepare")
    assert Hearer(listed).hear(clip).text == "valve tag romeo whiskey two zero four"
    careful = Hearer(listed, thresholds=Thresholds(wide_lead=3.0)).hear(clip)
    assert careful.kind == "near"
