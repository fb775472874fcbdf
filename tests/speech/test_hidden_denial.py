"""A contracted denial whose sounds are lost is known by its time."""

from dataclasses import replace

import numpy as np
import pytest

from speech import decision
from speech.audio import RATE, load_clip
from speech.competitors import load_rules
from speech.hearing import Hearer
from speech.hidden_denial import MOST_LEAD, Copulas, lead_needed
from speech.phrase import Meaning, Phrase
from speech.phrasebook import all_phrases
from speech.recogniser import Word

COPULAS = Copulas.of(load_rules())
LABELS = [str(n) for n in range(1, 25)]


def spoken(text, **lasting):
    """Words one behind the other, each 0.2 s long or as long as said."""
    words, at = [], 0.1
    for word in text.split():
        end = at + lasting.get(word, 0.2)
        words.append(Word(word, at, end))
        at = end
    return words


def test_a_short_copula_needs_no_lead_of_its_own_and_a_longer_one_ever_more():
    leads = [lead_needed(0.03 * frames) for frames in range(1, 20)]
    assert leads[:6] == [0.0] * 6
    assert leads == sorted(leads)
    assert leads[6] > 3.0
    assert leads[-1] == MOST_LEAD


def test_the_pause_behind_a_copula_counts_as_its_time():
    words = spoken("area is clear", **{"is": 0.15})
    later = [*words[:2], Word("clear", words[2].start + 0.15, words[2].end + 0.15)]
    assert COPULAS.lingering(words) == []
    assert [at for at, _ in COPULAS.lingering(later)] == [1]


def test_a_long_copula_before_a_denial_or_at_the_end_hides_nothing():
    assert COPULAS.lingering(spoken("lock is not off", **{"is": 0.5})) == []
    assert COPULAS.lingering(spoken("which one is", **{"is": 0.5})) == []


def test_where_a_language_contracts_no_denial_a_long_copula_hides_nothing():
    plain = Copulas.of(replace(load_rules(), contracted=frozenset()))
    assert COPULAS.lingering(spoken("gear is released", **{"is": 0.5})) == [(1, MOST_LEAD)]
    assert plain.lingering(spoken("gear is released", **{"is": 0.5})) == []


@pytest.mark.parametrize(
    ("copula", "denied", "never"), [("is", "isn't", "aren't"), ("are", "aren't", "isn't")]
)
def test_the_denials_that_agree_with_the_copula_are_asked_about(copula, denied, never):
    sentences = COPULAS.sentences(spoken(f"two {copula} off"), 1)
    assert f"two {denied} off" in sentences
    assert f"two {never} off" not in sentences


def test_a_denial_without_its_sounds_is_not_taken_for_the_plain_phrase(monkeypatch, clip):
    sound = clip("setting_gear_isnt_released_clean")
    hearer = Hearer(all_phrases(LABELS))
    heard = hearer.hear(sound)
    assert (heard.verdict, heard.kind) == ("refused", "near")
    assert heard.reason.startswith("setting gear: is released or isn't released?")
    monkeypatch.setattr(decision.Copulas, "lingering", lambda *_: [])
    assert hearer.hear(sound).text == "setting gear is released"


def test_a_pause_behind_the_verb_is_asked_about(clip):
    hearer = Hearer([Phrase("breaker is closed", Meaning("said", {}))])
    samples = load_clip(clip("breaker_is_closed_clean")).samples
    whole = hearer.hear_samples(samples)
    assert whole.text == "breaker is closed"
    behind = round(RATE * whole.words[2].start)
    quiet = np.random.default_rng(1).normal(0, 8, RATE // 4).astype(np.int16)
    heard = hearer.hear_samples(np.concatenate([samples[:behind], quiet, samples[behind:]]))
    assert heard.reason.startswith("breaker: is closed or isn't closed?")
