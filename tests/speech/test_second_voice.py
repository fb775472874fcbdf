"""A second voice is heard beside the first, and one voice, however noisy, is one voice."""

import itertools

import numpy as np
import pytest

from speech.audio import load_clip
from speech.hearing import Hearer
from speech.phrase import Meaning, Phrase
from speech.second_voice import second_voice
from tests.speech.samples import SAMPLES, sample_lines

RATE = 16_000
LOUD, WEAK = "contact_two_closed", "breaker_is_closed"
LINES = [line["file"] for line in sample_lines()]


def samples_of(file):
    return load_clip((SAMPLES / file).read_bytes()).samples


def together(one, other, decibels=0.0):
    """Two sounds at once, the second so many decibels weaker than the first, both in their middle."""
    first, second = (sound.astype(np.float64) for sound in (one, other))
    second *= np.sqrt(np.mean(first**2) / np.mean(second**2)) * 10 ** (-decibels / 20)
    mixed = np.zeros(max(len(first), len(second)))
    for sound in (first, second):
        at = (len(mixed) - len(sound)) // 2
        mixed[at : at + len(sound)] += sound
    return (mixed * min(1.0, 32_000 / np.abs(mixed).max())).astype(np.int16)


@pytest.mark.parametrize("file", LINES, ids=lambda file: file.split("/")[-1])
def test_one_voice_is_one_voice_clean_muffled_by_telephone_and_in_noise(file):
    assert not second_voice(samples_of(file))


def test_noise_and_silence_and_a_moment_of_sound_are_no_second_voice():
    noise = np.random.default_rng(3).normal(0, 2_000, 3 * RATE).astype(np.int16)
    assert not second_voice(noise)
    assert not second_voice(np.zeros(RATE, np.int16))
    assert not second_voice(noise[:200])
    assert not second_voice(noise[:0])


def tone(pitch, seconds=1.0):
    """A steady voice-like sound: a pitch and its harmonics, as the published method has them."""
    at = np.arange(int(seconds * RATE)) / RATE
    return sum(np.sin(2 * np.pi * k * pitch * at) / k for k in range(1, 12)) * 3_000


@pytest.mark.parametrize(("low", "high"), [(100, 126), (110, 178), (120, 205)])
def test_two_pitches_are_two_voices_and_each_alone_is_one(low, high):
    assert second_voice((tone(low) + tone(high)).astype(np.int16))
    assert not second_voice(tone(low).astype(np.int16))
    assert not second_voice(tone(high).astype(np.int16))


def test_clean_clips_said_at_once_are_often_found():
    clean = [file for file in LINES if file.endswith("_clean.ogg")][:8]
    pairs = [together(samples_of(a), samples_of(b)) for a, b in itertools.combinations(clean, 2)]
    assert sum(map(second_voice, pairs)) >= len(pairs) / 4


def test_two_voices_are_refused_but_what_restricts_counts():
    one, other = (samples_of(f"clips/hearing/{name}_clean.ogg") for name in (LOUD, WEAK))
    both = together(one, other, 6.0)
    assert second_voice(both)
    text = LOUD.replace("_", " ")

    def heard(*, restricts):
        phrase = Phrase(text, Meaning("said", {}), care="wide", restricts=restricts)
        return Hearer([phrase]).hear_samples(both)

    assert heard(restricts=False).kind == "voices"
    assert heard(restricts=True).text == text
