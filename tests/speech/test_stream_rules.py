"""The rules that are a stream's own: settling, going on, the device's own voice, cut words, spoken marks."""

import json
from pathlib import Path

import numpy as np
import pytest

from speech.audio import load_clip
from speech.hearing import Hearer, Hearing
from speech.phrasebook import all_phrases, phrases_for
from speech.streaming import WORD_TIME_S, OwnVoice, Session, Settled, Uttered, Withdrawn

CLIPS = Path(__file__).parents[1] / "clips"
TRUTH = json.loads((CLIPS / "truth.json").read_text())
RATE = 16_000
LABELS = ("9", "3B", "17", "5A")


@pytest.fixture(scope="module")
def ear():
    return Hearer(phrases_for(("contact", "control", "mark"), LABELS))


def clip(name: str) -> np.ndarray:
    return load_clip((CLIPS / f"{name}.ogg").read_bytes()).samples


def quiet(seconds: float) -> np.ndarray:
    return (np.random.default_rng(5).normal(size=int(RATE * seconds)) * 8).astype(np.int16)


def sound(*parts) -> np.ndarray:
    return np.concatenate([clip(one) if isinstance(one, str) else quiet(one) for one in parts])


def played(session: Session, samples: np.ndarray, chunk: int = 3_200) -> list:
    raw = samples.tobytes()
    return [event for at in range(0, len(raw), chunk) for event in session.feed(raw[at : at + chunk])]


def settled(events) -> list[Uttered]:
    return [event.utterance for event in events if isinstance(event, Settled)]


def said(events) -> list[str]:
    return [e.hearing.text for e in events if isinstance(e, Uttered) and e.hearing.verdict == "heard"]


def test_a_claim_settles_once_and_only_when_nobody_went_on(ear):
    session = Session(ear)
    early = played(session, sound(0.5, "contact_nine_closed", 1.2))
    assert said(early) == ["contact nine closed"]
    assert settled(early) == []
    late = played(session, sound(1.5))
    assert [one.hearing.text for one in settled(late)] == ["contact nine closed"]
    assert settled(session.close()) == []


@pytest.mark.parametrize("second", ["no_open", "no_it_is_not_closed"])
@pytest.mark.parametrize("pause", [0.5, 0.7])
def test_a_claim_that_is_taken_back_within_a_breath_is_withdrawn_and_never_settles(ear, second, pause):
    events = played(session := Session(ear), sound(0.5, "contact_nine_closed", pause, second, 2.5))
    events += session.close()
    assert said(events) == ["contact nine closed"]
    (claim,) = [e.number for e in events if isinstance(e, Uttered) and e.hearing.verdict == "heard"]
    assert [e.number for e in events if isinstance(e, Withdrawn)] == [claim]
    (whole,) = settled(events)
    assert whole.hearing.verdict == "refused"
    assert "went_on" in whole.doubts
    length = len(np.frombuffer(whole.sound, "<i2")) / RATE
    assert length > (len(clip("contact_nine_closed")) + len(clip(second))) / RATE + pause - 0.1


@pytest.mark.parametrize("first", ["i_do_not_think_that", "he_says", "no_open", "no_it_is_not_closed"])
@pytest.mark.parametrize("pause", [0.0, 0.35])
def test_a_claim_right_after_words_that_may_take_it_back_permits_nothing(ear, first, pause):
    events = played(session := Session(ear), sound(0.5, first, pause, "contact_nine_closed", 2.5))
    events += session.close()
    assert [one.hearing.text for one in settled(events) if one.claims] == []
    assert settled(events)


def test_noise_right_before_a_claim_leaves_it(ear):
    clank = (np.random.default_rng(2).normal(size=RATE // 3) * 1_000).astype(np.int16)
    samples = np.concatenate([quiet(0.5), clank, quiet(0.4), clip("contact_nine_closed"), quiet(3.0)])
    assert [one.claims for one in settled(played(Session(ear), samples)) if one.hearing.text] == [True]


def test_a_late_denial_withdraws_although_its_words_are_shown_still_later(clip):
    """The person says "is not" 1.1 s after the claim; its words are shown about a second later."""
    sound = load_clip(clip("permit_is_signed_is_not_pink10")).samples
    quiet = (np.random.default_rng(1).normal(size=4 * 16_000) * np.abs(sound[:1_600]).std()).astype(np.int16)
    session = Session(Hearer(all_phrases(["1", "2"])))
    events = [event for part in (quiet[:8_000], sound, quiet) for event in session.feed(part.tobytes())]
    events += session.close()
    assert any(isinstance(event, Withdrawn) for event in events)
    assert not any(isinstance(event, Settled) and event.utterance.claims for event in events)


def test_a_refusal_settles_at_once(ear):
    events = played(Session(ear), sound(0.5, "no_it_is_not_closed", 1.5))
    (refused,) = settled(events)
    assert refused.hearing.reason
    assert events[events.index(Settled(refused)) - 1] is refused


def test_what_the_device_says_itself_is_nobodys_statement(ear):
    for name in ("own_voice_contacts", "own_voice_read_back_is_right"):
        session = Session(ear)
        events = played(session, sound(0.5))
        events += session.own_voice(TRUTH[name]["text"])
        events += played(session, clip(name))
        session.own_voice_ended()
        events += played(session, sound(2.0)) + session.close()
        assert said(events) == []
        assert settled(events) == []
        assert any(isinstance(event, OwnVoice) for event in events)


def test_what_the_device_says_without_saying_what_may_restrict_and_not_permit(ear):
    session = Session(ear)
    events = session.own_voice()
    events += played(session, sound("own_voice_contacts"))
    session.own_voice_ended()
    events += played(session, sound(2.5))
    assert [one.doubts for one in settled(events)] == [("over_own_voice",)]


def test_a_caution_that_speaks_of_stopping_does_not_stop_the_work(ear):
    caution = clip("own_voice_caution")
    session = Session(ear)
    events = session.own_voice(TRUTH["own_voice_caution"]["text"])
    events += played(session, np.concatenate([caution, quiet(0.3)]))
    session.own_voice_ended()
    events += played(session, sound(2.0)) + session.close()
    assert settled(events) == []


def test_a_denial_of_somebody_else_over_the_device_s_voice_still_restricts(ear):
    session = Session(ear)
    events = session.own_voice(TRUTH["own_voice_caution"]["text"])
    events += played(session, np.concatenate([quiet(0.4), clip("i_do_not_think_that"), quiet(1.0)]))
    assert any(one.hearing.restricts for one in settled(events))


@pytest.mark.parametrize(
    "words", ["no", "not", "no not", "cannot be", "no stop", "is not closed", "i cannot"]
)
def test_a_short_denial_is_no_echo_though_its_letters_stand_in_the_caution(ear, words):
    session = Session(ear)
    session.own_voice(TRUTH["own_voice_caution"]["text"])
    assert not session._is_echo(Hearing("", "refused", kind="denial", restricts=True, nearest=words))


def test_the_same_caution_without_its_text_would_stop_the_work(ear):
    session = Session(ear)
    events = session.own_voice()
    events += played(session, np.concatenate([clip("own_voice_caution"), quiet(1.0)]))
    assert any(ear.is_stop(one.hearing.text) for one in settled(events))


def test_stop_with_a_word_of_its_own_acts_over_the_caution(ear):
    stop = load_clip((CLIPS.parents[1] / "sample_media/clips/rw-204/stop_work.ogg").read_bytes()).samples
    session = Session(ear)
    events = session.own_voice(TRUTH["own_voice_caution"]["text"])
    events += played(session, np.concatenate([quiet(0.4), stop, quiet(1.0)]))
    assert any(ear.is_stop(one.hearing.text) for one in settled(events))


def test_after_the_device_has_spoken_a_person_is_heard_again(ear):
    session = Session(ear)
    events = session.own_voice(TRUTH["own_voice_contacts"]["text"])
    events += played(session, clip("own_voice_contacts"))
    session.own_voice_ended()
    events += played(session, sound(1.0, "contact_nine_closed", 3.0))
    assert [(one.hearing.text, one.doubts) for one in settled(events)] == [("contact nine closed", ())]


def test_a_claim_settles_when_the_device_begins_to_speak(ear):
    session = Session(ear)
    events = played(session, sound(0.5, "contact_nine_closed", 1.0))
    assert settled(events) == []
    assert len(settled(session.own_voice("contact nine closed"))) == 1


def test_a_sound_that_ends_right_at_its_words_is_doubted(ear):
    samples = sound(0.5, "contact_nine_closed", 1.5)
    words = ear.hear_samples(samples).words
    session = Session(ear)
    played(session, samples[: int((words[-1].end + 0.02) * RATE)])
    for one in settled(session.close()):
        assert one.hearing.verdict == "refused" or one.doubts == ("cut_short",)


def test_sound_without_end_is_cut_and_memory_stays_bounded(ear):
    speech = sound("no_it_is_not_closed")
    session = Session(ear)
    for _ in range(14):
        played(session, speech)
        assert len(session._sound) <= 21 * RATE
    assert all(one.hearing.verdict == "refused" for one in settled(session.close()))
    hum = (300 * np.sin(2 * np.pi * 50 * np.arange(RATE * 8) / RATE)).astype(np.int16)
    silent = Session(ear)
    assert settled(played(silent, hum, 32_000)) == []
    assert len(silent._sound) <= 3 * RATE


def test_other_phrases_from_here_on_keep_time_and_numbers(ear):
    session = Session(ear)
    first = settled(played(session, sound(0.5, "contact_nine_closed", 3.0)))
    left = session.close()
    other = session.changed_to(Hearer(phrases_for(("mark", "control"), LABELS)))
    assert other.now_s == session.now_s
    second = settled(played(other, sound(0.5, "mark_start_of_stroke", 3.0)))
    assert left == []
    assert [one.hearing.text for one in first + second] == ["contact nine closed", "mark start of stroke"]
    assert second[0].number > first[0].number
    assert second[0].hearing.words[0].start > session.now_s


@pytest.mark.outside(
    source="flite 2.2, -psdur: end times of the phones that it synthesised, printed by the synthesizer itself"
)
@pytest.mark.parametrize("name", ["mark_start_of_stroke", "mark_end_of_stroke"])
@pytest.mark.parametrize("before", [0.7, 3.33])
def test_a_spoken_mark_has_the_time_of_its_word_within_the_stated_doubt(ear, name, before):
    session = Session(ear)
    events = played(session, sound(before, name, 1.0), chunk=9_600)
    (mark,) = [event for event in events if isinstance(event, Uttered)]
    assert mark.hearing.intent == "mark"
    assert [word.word for word in mark.hearing.words] == [w["word"] for w in TRUTH[name]["words"]]
    began = int(before * RATE) / RATE
    for heard, true in zip(mark.hearing.words, TRUTH[name]["words"], strict=True):
        assert heard.start == pytest.approx(began + true["start"], abs=mark.uncertainty_s + 0.03)
    assert mark.hearing.words[0].start == pytest.approx(
        began + TRUTH[name]["words"][0]["start"], abs=WORD_TIME_S
    )
