"""The same words at another speed: a deciding word that was guessed is guessed otherwise."""

from speech.audio import load_clip
from speech.decision import Thresholds
from speech.hearing import Hearer
from speech.phrase import load_phrases
from speech.phrasebook import all_phrases
from tests.speech.samples import CLIPS

LISTED = all_phrases(["1", "2"])


def test_a_word_that_leads_at_its_own_speed_alone_is_asked_about(clip):
    sound = clip("second_lock_is_on_pink10")
    heard = Hearer(LISTED).hear(sound)
    assert (heard.verdict, heard.kind) == ("refused", "near")
    assert "on or off" in heard.reason or "off or on" in heard.reason
    hasty = Hearer(LISTED, thresholds=Thresholds(other_speed=0.0)).hear(sound)
    assert hasty.text == "second lock is off"


def test_what_means_something_else_at_another_speed_is_no_phrase(clip, monkeypatch):
    hearer = Hearer(load_phrases(CLIPS / "phrases.jsonl"))
    sound = load_clip(clip("lock_is_off_clean")).samples
    other = hearer._judge.phrases.best_paths(load_clip(clip("breaker_is_closed_clean")).samples)
    found = hearer._judge.phrases.best_paths

    def otherwise(samples, most=1):
        return found(samples, most) if len(samples) == len(sound) else other

    monkeypatch.setattr(hearer._judge.phrases, "best_paths", otherwise)
    assert hearer.hear_samples(sound).kind == "speeds"
