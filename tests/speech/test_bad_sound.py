"""Sound that is not what it says, or is more than one thing: heard right, or refused with a reason; never bent."""

import io
import itertools
import struct

import numpy as np
import pytest
import soundfile

from speech.audio import load_clip
from speech.hearing import Hearer
from speech.phrase import Meaning, Phrase
from speech.stream_sound import wav_of
from speech.streaming import Session, Uttered

RATE = 16_000
NAMES = (
    "lock_is_off_clean",
    "breaker_is_closed_clean",
    "power_is_not_off_clean",
    "contact_two_closed_clean",
    "rotor_four_along_clean",
)


def samples_of(clip, name):
    return load_clip(clip(name)).samples


def said(name):
    return name.rpartition("_")[0].replace("_", " ")


@pytest.mark.parametrize("coded", ["PCM_24", "FLOAT", "DOUBLE", "PCM_32"])
def test_the_same_words_in_24_bit_or_float_are_heard_the_same(hearer, clip, coded):
    for name in NAMES[:2]:
        made = io.BytesIO()
        soundfile.write(made, samples_of(clip, name) / 32_768, RATE, format="WAV", subtype=coded)
        heard = hearer.hear(made.getvalue())
        assert (heard.verdict, heard.text) == ("heard", said(name))
        assert any("16 bit" in note for note in heard.notes)


@pytest.mark.parametrize("value", [np.nan, np.inf, 1e9])
def test_float_samples_that_are_no_sound_are_refused_and_never_raise(hearer, clip, value):
    sound = (samples_of(clip, NAMES[0]) / 32_768).astype(np.float32)
    sound[4_000:6_000] = value
    made = io.BytesIO()
    soundfile.write(made, sound, RATE, format="WAV", subtype="FLOAT")
    heard = hearer.hear(made.getvalue())
    assert heard.verdict == "refused" or heard.text == said(NAMES[0])
    assert heard.verdict == "heard" or heard.reason


@pytest.mark.parametrize("declared", [8_000, 11_025, 22_050, 44_100, 48_000])
def test_a_clip_that_declares_another_rate_is_never_heard_as_something_else(hearer, clip, declared):
    for name in NAMES:
        raw = bytearray(wav_of(samples_of(clip, name).tobytes()))
        raw[24:28] = struct.pack("<I", declared)
        heard = hearer.hear(bytes(raw))
        assert heard.text in ("", said(name)) or hearer.is_stop(heard.text)  # a stop only interrupts
        assert heard.verdict == "heard" or heard.reason


@pytest.mark.parametrize("share", [2.0, 3.0, 0.5])
def test_a_stream_of_another_rate_than_declared_gives_no_claim_but_its_own(hearer, clip, share):
    """Twice and three times the rate are 32 and 48 kHz taken for 16 kHz; half is 8 kHz."""
    for name in NAMES[:3]:
        sound = samples_of(clip, name)
        times = np.arange(int(len(sound) * share)) / share
        wrong = np.interp(times, np.arange(len(sound)), sound).astype(np.int16)
        heard = {e.hearing.text for e in played(hearer, wrong) if e.hearing.verdict == "heard"}
        assert {text for text in heard if not hearer.is_stop(text)} <= {said(name)}


def tune(seconds: float) -> np.ndarray:
    """Music: a melody in thirds with overtones and a beat, two notes a second."""
    clock = np.arange(int(RATE * seconds)) / RATE
    sound = np.zeros(len(clock))
    for number, step in enumerate(
        itertools.islice(itertools.cycle((0, 4, 7, 12, 9, 5, 2, 7)), int(seconds * 2))
    ):
        note = (clock >= number / 2) & (clock < (number + 1) / 2)
        begun = clock[note] - number / 2
        for third in (0, 4):
            pitch = 220 * 2 ** ((step + third) / 12)
            for overtone in range(1, 5):
                sound[note] += np.sin(2 * np.pi * pitch * overtone * begun) / overtone * np.exp(-3 * begun)
        sound[note] += np.random.default_rng(number).normal(size=note.sum()) * np.exp(-40 * begun)
    return (sound / np.abs(sound).max() * 9_000).astype(np.int16)


def hum(seconds: float, level: float) -> np.ndarray:
    """Mains hum with its odd harmonics, and the hiss of an open microphone."""
    clock = np.arange(int(RATE * seconds)) / RATE
    waves = sum(np.sin(2 * np.pi * 50 * k * clock) / k for k in (1, 3, 5, 7, 9))
    return (level * waves + np.random.default_rng(1).normal(size=len(clock)) * 10).astype(np.int16)


def played(hearer, samples) -> list[Uttered]:
    session = Session(hearer)
    padded = np.concatenate([hum(0.3, 5), samples, hum(2.5, 5)]).astype(np.int16)
    raw = padded.tobytes()
    events = [event for at in range(0, len(raw), 16_000) for event in session.feed(raw[at : at + 16_000])]
    return [event for event in events + session.close() if isinstance(event, Uttered)]


@pytest.mark.parametrize("sound", [tune(4), hum(4, 200), hum(4, 4_000)], ids=["music", "hum", "loud hum"])
def test_music_and_hum_are_no_statement_as_a_clip_or_in_a_stream(hearer, sound):
    heard = hearer.hear_samples(sound)
    assert heard.verdict == "refused"
    assert heard.reason
    assert [event for event in played(hearer, sound) if event.hearing.verdict == "heard"] == []


def test_hum_under_the_words_leaves_their_meaning(hearer, clip):
    for name in NAMES[:3]:
        sound = samples_of(clip, name)
        heard = hearer.hear_samples(
            (sound + hum(len(sound) / RATE + 0.1, 150)[: len(sound)]).astype(np.int16)
        )
        assert heard.text in ("", said(name))


def test_music_under_the_words_never_makes_other_words_of_them(hearer, clip):
    for name in NAMES:
        sound = samples_of(clip, name).astype(np.int32)
        mixed = sound + tune(len(sound) / RATE + 1)[: len(sound)] // 4
        heard = hearer.hear_samples(np.clip(mixed, -32_768, 32_767).astype(np.int16))
        assert heard.text in ("", said(name))


def test_two_people_at_once_equally_loud_are_never_heard_as_what_neither_said(hearer, clip):
    for one, other in itertools.combinations(NAMES[:4], 2):
        first, second = (samples_of(clip, name).astype(np.int32) for name in (one, other))
        size = max(len(first), len(second))
        both = np.pad(first, (0, size - len(first))) + np.pad(second, (0, size - len(second)))
        heard = hearer.hear_samples(np.clip(both, -32_768, 32_767).astype(np.int16))
        assert heard.text in ("", said(one), said(other)) or hearer.is_stop(heard.text)
        assert heard.verdict == "heard" or heard.reason


def test_a_phrase_listed_with_two_meanings_is_named_and_heard_as_neither(clip):
    off = {"item": "lock", "state": "off"}
    listed = [
        Phrase("lock is off", Meaning("isolation", off)),
        Phrase("lock is off", Meaning("isolation", {**off, "negated": True})),
        Phrase("breaker is closed", Meaning("isolation", {"item": "breaker"})),
    ]
    hearer = Hearer(listed)
    assert list(hearer.left_out) == ["lock is off"]
    assert hearer.hear(clip("lock_is_off_clean")).verdict == "refused"
    assert hearer.hear(clip("breaker_is_closed_clean")).text == "breaker is closed"
