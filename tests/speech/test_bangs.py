"""Lone sounds without a pitch are made still, words never are."""

import json
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from speech.audio import load_clip
from speech.bangs import without_bangs
from speech.hearing import Hearer
from speech.phrase import Meaning, Phrase

CLIPS = Path(__file__).parents[1] / "clips"
TRUTH = json.loads((CLIPS / "truth.json").read_text())
RATE = 16_000
SPOKEN = ("contact_nine_closed", "no_it_is_not_closed", "i_do_not_think_that", "no_open")


def clip(name: str) -> np.ndarray:
    return load_clip((CLIPS / f"{name}.ogg").read_bytes()).samples


def noise(seconds: float, level: float, seed: int = 1) -> np.ndarray:
    return (np.random.default_rng(seed).normal(size=int(RATE * seconds)) * level).astype(np.int16)


def pauses(samples: np.ndarray, least: int) -> list[int]:
    """Middles of the stretches of `least` samples or more that are 30 dB under the loudest."""
    still = np.abs(samples.astype(float)) < np.abs(samples).max() * 10 ** (-30 / 20)
    edges = np.flatnonzero(np.diff(np.r_[False, still, False]))
    return [int(a + b) // 2 for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= least]


@pytest.mark.parametrize("level", [300, 1_000, 3_000])
@pytest.mark.parametrize("seconds", [0.05, 0.3])
def test_a_bang_apart_from_the_words_is_made_as_still_as_the_rest(level, seconds):
    words, rest = clip("contact_nine_closed"), noise(0.6, 8)
    found = without_bangs(np.concatenate([rest, noise(seconds, level, 2), rest, words, rest]))
    bang = found[len(rest) : len(rest) + int(RATE * seconds)]
    assert np.sqrt((bang.astype(float) ** 2).mean()) < 20
    before = len(rest) * 2 + int(RATE * seconds)
    assert np.array_equal(found[before : before + len(words)], words)


@pytest.mark.parametrize("name", SPOKEN)
@pytest.mark.parametrize("pause", [0.0, 0.25, 0.6])
def test_no_word_is_touched_however_long_the_speaker_waits_between_words(name, pause):
    words = clip(name)
    cuts = [0, *pauses(words, RATE // 25), len(words)]
    parts = [part for a, b in pairwise(cuts) for part in (words[a:b], noise(pause, 8))]
    said = np.concatenate([noise(0.5, 8), *parts, noise(0.5, 8)])
    found = without_bangs(said)
    changed = np.flatnonzero(found != said)
    lost = np.abs(said[changed].astype(float)).max(initial=0)
    assert lost < np.abs(words).max() * 0.25  # the hiss of a last consonant at most, never a vowel


def test_where_nothing_has_a_pitch_nothing_is_touched():
    hisses = np.concatenate([noise(0.5, 8), noise(0.4, 900), noise(0.5, 8), noise(0.4, 900), noise(0.5, 8)])
    assert np.array_equal(without_bangs(hisses), hisses)


def test_in_loud_noise_nothing_is_touched():
    words = clip("contact_nine_closed")
    sound = np.concatenate([noise(0.5, 300), noise(0.3, 3_000), noise(0.5, 300), words, noise(0.5, 300)])
    sound = sound + noise(len(sound) / RATE, 300, 3)[: len(sound)]
    assert np.array_equal(without_bangs(sound), sound)


def test_a_phrase_is_heard_behind_a_clank_and_a_denial_still_counts():
    said = ("contact nine closed", "contact nine is closed", "contact nine is not closed")
    hearer = Hearer([Phrase(text, Meaning("said", {"text": text})) for text in said])
    clank = np.concatenate([noise(0.5, 8), noise(0.33, 1_000, 2), noise(0.4, 8)])
    heard = hearer.hear_samples(np.concatenate([clank, clip("contact_nine_closed"), noise(0.5, 8)]))
    assert heard.text == "contact nine closed"
    denied = hearer.hear_samples(np.concatenate([clank, clip("no_it_is_not_closed"), noise(0.5, 8)]))
    assert denied.verdict == "refused"
