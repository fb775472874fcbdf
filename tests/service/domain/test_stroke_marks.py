"""Marks of a stroke: the time of the word, what counts, what is taken back, late, or made for a void stroke."""

from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.incoming import Clip, GiveUpGap, HearingResult, Typed
from service.domain.stroke_judged import every_stroke, judged_stroke
from service.domain.stroke_marks import UNTOLD_BEGIN_SIGMA_S, WORD_SIGMA_S, runs_of
from tests.service.domain.jobs import START, mark_stroke, pass_step, play_to
from tests.service.domain.sample_job import at_first_stroke

STEP = "stroke_closing"
BOOT = "boot-1"


def iso(seconds: float) -> str:
    return (START + timedelta(hours=2, seconds=seconds)).isoformat()


def tap(rig, at, seconds, **where):
    """Tap a mark at so many seconds on the stroke's clock."""
    slots = at if isinstance(at, dict) else {"at": at}
    return rig.type("mark", slots, step=STEP, device_time=iso(seconds), **where)


def speak(rig, at, seconds, word_s=0.4, began_ms_ago=1500, *, words=True, **where):
    """Speak a mark in a clip whose recording began `began_ms_ago` before `seconds`, its word `word_s` into it."""
    told = {} if began_ms_ago is None else {"began_ms_ago": began_ms_ago}
    clip = Clip(media="a" * 64, **told, **rig.origin(step=STEP, device_time=iso(seconds), **where))
    rig.do(clip)
    hearing = {"verdict": "heard", "intent": "mark", "slots": {"at": at}, "confidence": 0.9, "audio_s": 1.5}
    if words:
        hearing["words"] = [{"word": "mark", "start": word_s, "end": word_s + 0.3, "conf": 0.9}]
    rig.do(HearingResult(clip=clip.id, hearing=hearing, read_back="Marked."))
    return clip.id


def took(rig):
    (run,) = runs_of(rig.state, STEP)
    return run.took()


def test_a_mark_has_the_time_of_its_word_and_not_of_its_message():
    rig = at_first_stroke()
    speak(rig, "start", 1.5, word_s=0.4)
    speak(rig, "end", 60.0, word_s=1.0, began_ms_ago=50_000)
    seconds, sigma = took(rig)
    assert seconds == pytest.approx((60.0 - 50.0 + 1.0) - (1.5 - 1.5 + 0.4))
    assert sigma == pytest.approx(((0.5**2 + WORD_SIGMA_S**2) * 2 + 0.25**2) ** 0.5)


def test_a_recording_whose_beginning_is_not_told_is_less_sure():
    rig = at_first_stroke()
    speak(rig, "start", 1.5, began_ms_ago=None)
    mark = next(iter(rig.state.marks.values()))
    assert mark.sigma_s == pytest.approx((0.5**2 + WORD_SIGMA_S**2 + UNTOLD_BEGIN_SIGMA_S**2) ** 0.5)


def test_a_clip_whose_words_have_no_times_marks_somewhere_in_it():
    rig = at_first_stroke()
    speak(rig, "start", 1.5, words=False)
    mark = next(iter(rig.state.marks.values()))
    assert mark.moment.wall_s == pytest.approx((START + timedelta(hours=2, seconds=0.75)).timestamp())
    assert mark.sigma_s > 0.5


def test_a_tap_is_surer_than_a_word():
    rig = at_first_stroke()
    tap(rig, "start", 0)
    tap(rig, "stopped", 80)
    assert took(rig) == (80.0, pytest.approx((2 * 0.25**2 + 0.25**2) ** 0.5))


def test_a_correction_takes_the_last_mark_away():
    rig = at_first_stroke()
    tap(rig, "start", 0)
    tap(rig, "end", 20)
    rig.type("control", {"action": "correction"})
    assert runs_of(rig.state, STEP)[0].fault == "The end is not marked."
    tap(rig, "end", 80)
    assert took(rig)[0] == 80.0


def test_a_second_start_begins_another_run_and_the_newest_counts():
    rig = at_first_stroke()
    for at, seconds in (("start", 0), ("end", 30), ("start", 100), ("end", 108)):
        tap(rig, at, seconds)
    assert [run.took()[0] for run in runs_of(rig.state, STEP)] == [30.0, 8.0]
    assert judged_stroke(rig.state, STEP).took_s == 8.0
    assert [one.took_s for one in every_stroke(rig.state, STEP)] == [30.0, 8.0]


def test_two_people_who_mark_one_moment_make_one_mark_no_surer_than_either():
    rig = at_first_stroke()
    tap(rig, "start", 0)
    tap(rig, "start", 0.4, person="omar")
    tap(rig, "end", 80)
    (run,) = runs_of(rig.state, STEP)
    assert run.one("start").persons == ("tess", "omar")
    assert run.one("start").sigma_s == 0.25
    assert run.took()[0] == pytest.approx(79.8)


def test_two_ends_apart_are_not_one_and_nothing_is_judged():
    rig = at_first_stroke()
    for at, seconds in (("start", 0), ("end", 60), ("end", 80)):
        tap(rig, at, seconds)
    assert "20.0 s apart" in judged_stroke(rig.state, STEP).lacking[0]


@pytest.mark.parametrize(("at", "seconds"), [("end", -5), ("end", 0.3)])
def test_an_end_before_or_with_the_start_makes_no_stroke(at, seconds):
    rig = at_first_stroke()
    tap(rig, "start", 0)
    tap(rig, at, seconds)
    assert judged_stroke(rig.state, STEP).lacking


def test_without_a_time_of_its_device_a_mark_counts_for_nothing_and_says_so():
    rig = at_first_stroke()
    item = rig.type("mark", {"at": "start"}, step=STEP)
    assert not rig.state.marks
    assert "no time" in rig.state.claims[item].note


def test_a_mark_for_a_step_that_is_not_open_is_without_effect():
    rig = at_first_stroke()
    item = rig.type("mark", {"at": "start"}, step="stroke_opening", device_time=iso(0))
    assert rig.state.claims[item].status == "without_effect"


def test_a_doubted_clip_marks_nothing():
    rig = at_first_stroke()
    clip = Clip(media="a" * 64, doubts=("cut_in",), **rig.origin(step=STEP, device_time=iso(0)))
    rig.do(clip)
    rig.hear(clip.id, "mark", {"at": "start"})
    assert not rig.state.marks


def test_marks_of_a_void_stroke_count_no_more_nor_those_made_before_its_device_knew():
    rig = at_first_stroke()
    known = rig.state.last_seq
    tap(rig, "start", 0)
    tap(rig, "end", 8)
    rig.type("rotation", {"item": "motor", "state": "wrong_way"})
    assert runs_of(rig.state, STEP) == ()
    play_to(rig, STEP)
    late = tap(rig, "start", 5, person="omar", known_seq=known)
    assert "before its stroke became void" in rig.state.claims[late].note
    tap(rig, "start", 1000)
    tap(rig, "end", 1008)
    assert took(rig)[0] == 8.0
    assert next(bool(one.lacking) for one in every_stroke(rig.state, STEP))


def test_a_late_mark_that_contradicts_the_stroke_holds_the_job():
    rig = at_first_stroke()
    known = rig.state.last_seq
    pass_step(rig, STEP)
    (end,) = (mark for mark in rig.state.marks.values() if mark.what == "stop")
    rig.type(
        "mark",
        {"at": "end"},
        step=STEP,
        person="omar",
        known_seq=known,
        device_time=(rig.now + timedelta(seconds=40)).isoformat(),
    )
    assert end.late is False
    assert rig.status(f"{STEP}/stroke") == "void"
    assert not rig.passed(STEP)
    assert rig.entries[-1].kind == "gate_held"
    assert rig.entries[-1].body["late"]


def test_a_late_mark_that_agrees_changes_nothing():
    rig = at_first_stroke()
    known = rig.state.last_seq
    start = rig.now
    mark_stroke(rig, 8.2, step=STEP)
    pass_step(rig, STEP)
    at = (start + timedelta(seconds=8.5)).isoformat()
    rig.type("mark", {"at": "end"}, step=STEP, person="omar", known_seq=known, device_time=at)
    assert rig.passed(STEP)


def test_an_old_entry_of_a_clip_and_its_repeat_have_the_same_bytes():
    rig = at_first_stroke()
    clip = Clip(media="a" * 64, **rig.origin(step=STEP))
    rig.do(clip)
    assert "began_ms_ago" not in rig.entries[-1].body
    assert rig.do(clip) == ()


MARKS = [
    ("start", 0.0),
    ("moving", 1.0),
    ({"at": "lamp", "colour": "red", "state": "off"}, 7.1),
    ("end", 8.2),
    ({"at": "now"}, 9.0),
]


def made(rig, order, gap):
    """Make the marks in their order on one device and let them arrive in another; the last is a correction's victim."""
    items = []
    for at, seconds in MARKS:
        slots = at if isinstance(at, dict) else {"at": at}
        origin = rig.origin(
            step=STEP, device_time=iso(seconds), boot_id=BOOT, monotonic_ns=int(seconds * 1e9)
        )
        items.append(Typed(intent="mark", slots=slots, **origin))
    for place in order:
        if items[place].device_seq != gap:
            rig.do(items[place])
    return items


@settings(max_examples=40, deadline=None)
@given(st.permutations(range(len(MARKS))), st.data())
def test_any_order_of_arrival_gives_the_same_judgement(order, data):
    plain, mixed = at_first_stroke(), at_first_stroke()
    for rig in (plain, mixed):
        rig.say("trip", {"cause": "limit", "travel": "closing"}, device_time=iso(20))
        rig.say("lamp", {"red": "off", "green": "on"}, device_time=iso(21))
    made(plain, range(len(MARKS)), None)
    items = made(mixed, order, None)
    for place in data.draw(st.lists(st.integers(0, len(MARKS) - 1), max_size=3)):
        assert mixed.do(items[place]) == ()
    one, other = judged_stroke(plain.state, STEP), judged_stroke(mixed.state, STEP)
    assert one.verdict == "fits"
    assert (one.remarks, one.took_s, one.sigma_s) == (other.remarks, other.took_s, other.sigma_s)
    assert mixed.status(f"{STEP}/stroke") == plain.status(f"{STEP}/stroke") == "met"


def test_past_a_gap_marks_wait_and_count_once_the_gap_is_given_up():
    rig = at_first_stroke()
    origin = {"step": STEP, "device_time": iso(0)}
    rig.do(Typed(intent="mark", slots={"at": "start"}, **rig.origin(gap=1, **origin)))
    assert not rig.state.marks
    device = "phone of tess"
    rig.do(GiveUpGap(person="tess", device=device, up_to=rig.counts[device] - 1, reason="lost"))
    assert len(rig.state.marks) == 1
