"""Live words look less far ahead. What they are compared with is the same model, unchanged, through Vosk."""

import json
import struct

import numpy as np
import pytest
import vosk

from speech.audio import load_clip
from speech.decision import LIVE
from speech.model_folder import SHIPPED, open_model
from speech.recogniser import RATE
from speech.sooner import SHORTENED, looking_less_far, sooner
from tests.speech.samples import sample_lines

PIECE = 480  # samples: the network's own step of 30 ms
WHOLE = (SHIPPED / "am" / "final.mdl").read_bytes()
CLEAN = ["lock_is_off_clean", "rotor_four_along_clean", "breaker_is_closed_clean"]


def looks_ahead(raw):
    mark = b"<RightContext> \x04"
    return struct.unpack_from("<i", raw, raw.index(mark) + len(mark))[0]


def first_heard(model, samples, text):
    """After how many seconds of sound a stream first shows this text."""
    listener = vosk.KaldiRecognizer(model, RATE)
    for at in range(0, len(samples), PIECE):
        listener.AcceptWaveform(samples[at : at + PIECE].tobytes())
        if json.loads(listener.PartialResult())["partial"] == text:
            return (at + PIECE) / RATE
    return None


def test_each_shortened_layer_saves_sixty_milliseconds():
    """Frames are 10 ms apart; the shipped layers that look farthest add frames 60 ms apart (training/network.py)."""
    assert looks_ahead(WHOLE) - looks_ahead(looking_less_far(WHOLE)) == SHORTENED * 6


def test_the_shipped_model_is_left_as_it_is():
    made = sooner(open_model())
    assert made.model.path != SHIPPED
    assert (SHIPPED / "am" / "final.mdl").read_bytes() == WHOLE


def test_a_model_without_such_layers_stays_as_it_is():
    assert looking_less_far(WHOLE, 99) == WHOLE
    assert looking_less_far(b"\0B<TransitionModel> other") == b"\0B<TransitionModel> other"


@pytest.mark.parametrize("name", CLEAN)
def test_live_words_are_the_same_and_come_sooner(hearer, clip, name):
    line = next(one for one in sample_lines() if name in one["file"])
    samples = np.concatenate([load_clip(clip(name)).samples, np.zeros(RATE, np.int16)])
    judge = hearer._judge
    plain = judge._graphs.recogniser(f"plain-{name}", judge.graph, **LIVE)
    soon, late = (first_heard(one.model, samples, line["truth"]["text"]) for one in (judge.live, plain))
    assert soon is not None
    assert late is not None
    assert soon < late
