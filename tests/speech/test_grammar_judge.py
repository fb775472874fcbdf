"""A model whose sounds are not ours: the shipped network behind a lexicon and a table of sounds of its own."""

import pytest

from speech.hearing import Hearer
from speech.lexicon import FILLER, Lexicon
from speech.lexicon_graph import word_graph, write_words
from speech.model_folder import SHIPPED, open_model
from speech.phrase import Meaning, Phrase
from speech.word_graph import exact_graph
from tests.speech.samples import SAMPLES, sample_lines

WORDS = (
    "lock is on off not breaker closed open contact two power stop work "
    "was the what says can you confirm isn't should be"
)
LISTED = [
    Phrase("lock is off", Meaning("isolation", {"item": "lock", "state": "off"})),
    Phrase("lock is on", Meaning("isolation", {"item": "lock", "state": "on"})),
    Phrase("breaker is closed", Meaning("isolation", {"item": "breaker", "state": "closed"})),
    Phrase("power is off", Meaning("isolation", {"item": "power", "state": "off"})),
    Phrase("confirm", Meaning("control", {"action": "confirm"})),
    Phrase("stop work", Meaning("control", {"action": "stop_work"})),
    Phrase("selector in off", Meaning("isolation", {"item": "selector", "state": "off"})),
]


@pytest.fixture(scope="module")
def foreign(tmp_path_factory):
    return _model(tmp_path_factory.mktemp("foreign"), WORDS)


def _model(folder, words):
    for name in ("am/final.mdl", "conf/mfcc.conf", "conf/model.conf"):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes((SHIPPED / name).read_bytes())
    graph = folder / "graph"
    graph.mkdir()
    pronunciations, silent = Lexicon().pronounce(words.split())
    assert silent == []
    machine, ids = word_graph(pronunciations | {FILLER: [["SPN"]]})
    write_words(graph, machine, ids)
    (graph / "Gr.fst").write_bytes(exact_graph(LISTED[:6]).machine(ids))
    names = (graph / "phones.txt").read_text().replace("SIL 1", "sil 1")
    (graph / "phones.txt").write_text(names)
    return folder


def test_a_table_of_other_sounds_is_not_taken_for_ours(foreign):
    assert not open_model(foreign).ours


def test_a_phrase_with_a_word_that_the_model_lacks_is_named_and_left_out(foreign):
    hearer = Hearer(LISTED, foreign)
    assert hearer.left_out == {"selector in off": "no pronunciation for: in selector"}


def test_a_phrase_that_the_model_cannot_tell_from_its_denial_is_left_out(tmp_path):
    without = _model(tmp_path, WORDS.replace("isn't ", ""))
    hearer = Hearer(LISTED, without)
    assert "isn't" in hearer.left_out["lock is off"]
    assert "confirm" not in hearer.left_out


@pytest.mark.parametrize(
    ("name", "text"), [("lock_is_off_clean", "lock is off"), ("stop_work_clean", "stop work")]
)
def test_phrases_are_heard_through_the_run_time_grammar(foreign, clip, name, text):
    assert Hearer(LISTED, foreign).hear(clip(name)).text == text


def test_nothing_that_must_be_refused_is_heard(foreign):
    hearer = Hearer(LISTED, foreign)
    refused = [line for line in sample_lines() if not line["truth"]["meaning"]]
    heard = [
        line["file"]
        for line in refused
        if hearer.hear((SAMPLES / line["file"]).read_bytes()).verdict == "heard"
    ]
    assert heard == []
