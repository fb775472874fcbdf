"""Few graphs loaded at a time, and the same answers whichever they are."""

import gc

import numpy as np
import pytest

from speech.free_sounds import phone_words
from speech.lexicon import FILLER
from speech.lexicon_graph import word_graph
from speech.loaded_graphs import LoadedGraphs
from speech.model_folder import open_model
from speech.phones import ARPABET
from speech.recogniser import Graphs, Recogniser
from speech.refusals import ModelRefused
from speech.word_graph import phone_loop

NAMES = ("one", "two", "three")


@pytest.fixture
def loops():
    """Three graphs alike, of which two stay loaded."""
    kept = LoadedGraphs(2)
    made = Graphs(open_model(), *word_graph(phone_words() | {FILLER: [["SPN"]]}), kept)
    sounds = phone_loop(f"#{sound.lower()}" for sound in ARPABET)
    return kept, [made.recogniser(name, sounds, beam="8", max_active="200") for name in NAMES]


def test_the_last_used_stay_loaded_and_the_others_are_let_go(loops):
    kept, (one, two, three) = loops
    first = one.model
    assert one.model is first
    two.model, three.model  # noqa: B018 - used
    assert len(kept._kept) == 2
    assert one.model is first  # somebody held it
    del first
    two.model, three.model  # noqa: B018 - used
    gc.collect()
    assert len(kept._held) == 2


def test_a_graph_loaded_again_hears_the_same(loops):
    _, (one, two, three) = loops
    sound = (np.random.default_rng(3).normal(size=16_000) * 2_000).astype(np.int16)
    before = one.best_path(sound)
    assert two.best_path(sound) == three.best_path(sound) == before
    assert one.best_path(sound) == before


def test_a_stream_keeps_its_model_for_others_to_share(loops):
    _, (one, two, three) = loops
    stream = one.listener()
    two.model, three.model  # noqa: B018 - used
    assert one.model is stream.model
    assert one.listener().model is stream.model


def test_a_graph_that_is_gone_is_not_kept(loops):
    kept, recognisers = loops
    recognisers[0].model  # noqa: B018 - used
    recognisers.clear()
    gc.collect()
    assert not kept._kept


def test_a_folder_that_is_no_model_is_refused_each_time(tmp_path):
    nothing = Recogniser(tmp_path, LoadedGraphs(1))
    for _ in range(2):
        with pytest.raises(ModelRefused, match="cannot be loaded as a Vosk model"):
            nothing.model  # noqa: B018 - used
