import numpy as np
import pytest

from speech.audio import load_clip
from speech.hearing import Hearing
from speech.refusals import ClipRefused
from speech.streaming import WORD_TIME_S, Partial, Session, Uttered, Withdrawn

CHANCE = np.random.default_rng(2)


def quiet(seconds):
    return (CHANCE.normal(size=int(16_000 * seconds)) * 8).astype(np.int16)


def spoken(clip, *parts):
    """Clips by name and pauses in seconds, one after the other; and when each clip begins."""
    sounds, begins, at = [], [], 0
    for part in parts:
        sound = load_clip(clip(part)).samples if isinstance(part, str) else quiet(part)
        if isinstance(part, str):
            begins.append(at / 16_000)
        sounds.append(sound)
        at += len(sound)
    return np.concatenate(sounds), begins


def events_of(session, samples, chunk=4_000):
    raw = samples.tobytes()
    found = [event for at in range(0, len(raw), chunk) for event in session.feed(raw[at : at + chunk])]
    return found + session.close()


def heard_in(events):
    return [e.hearing.text for e in events if isinstance(e, Uttered) and e.hearing.verdict == "heard"]


def test_two_phrases_with_a_pause_are_two_claims_with_partial_words_before_them(hearer, clip):
    samples, _ = spoken(clip, 0.5, "lock_is_off_clean", 2.5, "rotor_four_along_clean", 1.5)
    events = events_of(Session(hearer), samples)
    assert heard_in(events) == ["lock is off", "rotor four along"]
    first = next(i for i, e in enumerate(events) if isinstance(e, Uttered))
    assert any(isinstance(e, Partial) and e.text.startswith("lock") for e in events[:first])


def test_word_times_are_those_of_the_stream_within_the_stated_doubt(hearer, clip):
    samples, begins = spoken(clip, 1.0, "lock_is_off_clean", 2.5, "rotor_four_along_clean", 1.5)
    uttered = [e for e in events_of(Session(hearer), samples) if isinstance(e, Uttered)]
    for event, begin, name in zip(
        uttered, begins, ("lock_is_off_clean", "rotor_four_along_clean"), strict=True
    ):
        alone = hearer.hear(clip(name)).words
        for word, same in zip(event.hearing.words, alone, strict=True):
            assert word.start == pytest.approx(begin + same.start, abs=WORD_TIME_S)


def test_the_size_of_the_chunks_does_not_change_what_is_heard(hearer, clip):
    samples, _ = spoken(clip, 0.5, "breaker_is_closed_clean", 2.0)
    for chunk in (202, 3_333, 32_000):
        assert heard_in(events_of(Session(hearer), samples, chunk)) == ["breaker is closed"]


def test_stop_is_taken_before_its_utterance_has_ended(hearer, clip):
    samples, _ = spoken(clip, 0.5, "stop_pink10")
    session = Session(hearer)
    raw = np.concatenate([samples, quiet(0.1)]).tobytes()
    events = [e for at in range(0, len(raw), 3_200) for e in session.feed(raw[at : at + 3_200])]
    assert "stop" in " ".join(heard_in(events))


def test_the_sound_of_an_utterance_is_kept_exactly_as_received(hearer, clip):
    samples, _ = spoken(clip, 0.5, "lock_is_off_clean", 1.5)
    (event,) = [e for e in events_of(Session(hearer), samples) if isinstance(e, Uttered)]
    start = round(event.start_s * 16_000)
    kept = np.frombuffer(event.sound, "<i2")
    assert np.array_equal(kept, samples[start : start + len(kept)])


def test_a_claim_is_withdrawn_when_the_speaker_goes_on_with_other_words(hearer, clip):
    samples, _ = spoken(clip, 0.5, "lock_is_off_clean", 0.6, "i_cant_confirm_pink15", 1.5)
    events = events_of(Session(hearer), samples)
    claims = {e.number for e in events if isinstance(e, Uttered) and e.hearing.verdict == "heard"}
    withdrawn = {e.number for e in events if isinstance(e, Withdrawn)}
    assert claims <= withdrawn


def test_a_stream_that_ends_inside_a_word_gives_no_claim(hearer, clip):
    samples, _ = spoken(clip, 0.5, "control_supply_is_not_off_pink15")
    words = hearer.hear(clip("control_supply_is_not_off_pink15")).words
    cut = samples[: int((0.5 + words[-1].start + 0.05) * 16_000)]
    assert heard_in(events_of(Session(hearer), cut)) == []


def test_silence_and_hum_give_no_event(hearer):
    clock = np.arange(16_000 * 6) / 16_000
    hum = (400 * np.sin(2 * np.pi * 50 * clock)).astype(np.int16)
    assert heard_in(events_of(Session(hearer), hum)) == []


def test_several_sessions_do_not_mix(hearer, clip):
    one, _ = spoken(clip, 0.5, "lock_is_off_clean", 1.5)
    other, _ = spoken(clip, 0.7, "breaker_is_closed_clean", 1.5)
    first, second = Session(hearer), Session(hearer)
    found = ([], [])
    for at in range(0, max(len(one), len(other)), 2_000):
        found[0].extend(first.feed(one[at : at + 2_000].tobytes()))
        found[1].extend(second.feed(other[at : at + 2_000].tobytes()))
    assert heard_in(found[0] + first.close()) == ["lock is off"]
    assert heard_in(found[1] + second.close()) == ["breaker is closed"]


def control(action):
    return Hearing("", "heard", text=action.replace("_", " "), intent="control", slots={"action": action})


def test_while_standing_by_only_stop_and_the_wake_phrase_count(hearer):
    session = Session(hearer)
    claim = Hearing(
        "", "heard", text="lock is off", intent="isolation", slots={"item": "lock", "state": "off"}
    )
    stop = Hearing("", "heard", text="stop work", intent="control", slots={"action": "stop_work"})
    assert [session._taken(h) for h in (claim, control("stand_by"), claim, control("confirm"), stop)] == [
        True,
        True,
        False,
        False,
        True,
    ]
    assert session.asleep
    assert [session._taken(h) for h in (control("wake"), claim)] == [True, True]
    assert not session.asleep


def test_another_rate_is_refused(hearer):
    with pytest.raises(ClipRefused, match="44100"):
        Session(hearer, 44_100)


def test_an_oversized_chunk_is_refused(hearer):
    with pytest.raises(ClipRefused, match="ten seconds"):
        Session(hearer).feed(bytes(16_000 * 2 * 11))


def test_an_odd_byte_waits_for_its_other_half(hearer, clip):
    samples, _ = spoken(clip, 0.5, "lock_is_off_clean", 1.5)
    raw, session = samples.tobytes(), Session(hearer)
    events = session.feed(raw[:4_001]) + session.feed(raw[4_001:8_000]) + session.feed(raw[8_000:])
    assert heard_in(events + session.close()) == ["lock is off"]
