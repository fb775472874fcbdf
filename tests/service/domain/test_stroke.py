"""The judgement of a real stroke: what fits, what differs, and what time marks cannot tell."""

import math
from dataclasses import replace

import pytest

from service.domain.motor import Measured, Motor
from service.domain.refusals import BadDefinition
from service.domain.rehearsal import rehearse
from service.domain.stroke import Compared, Mark, judge
from tests.service.domain.test_rehearsal import stroke

DONE = rehearse(stroke())
STOP_S = DONE.time_of("standstill").t_s
DARK_S = next(event.t_s for event in DONE.events if event.what == "lamp red goes dark")
LIGHTS_S = next(event.t_s for event in DONE.events if event.what == "lamp green lights")


def marks(stop=STOP_S, dark=DARK_S, lights=LIGHTS_S, how="spoken"):
    return [
        Mark("start", 100.0, how),
        Mark("lamp green lights", 100.0 + lights, how),
        Mark("lamp red goes dark", 100.0 + dark, how),
        Mark("stop", 100.0 + stop, how),
    ]


def remarks(given, topic):
    return [remark for remark in given if remark.topic == topic]


def standing(given, topic):
    return [remark.standing for remark in remarks(given, topic)]


def test_a_stroke_as_rehearsed_fits_in_time_and_lamps():
    given = judge(DONE, marks())
    assert standing(given, "time") == ["fits"]
    assert standing(given, "lamps") == ["fits", "fits"]


def test_a_slower_stroke_differs_with_its_share():
    (remark,) = remarks(judge(DONE, marks(stop=STOP_S * 1.2)), "time")
    assert remark.standing == "differs"
    assert "+20.0%" in remark.sentence
    assert "slower than expected" in remark.sentence


def test_what_spoken_marks_cannot_resolve_is_said():
    given = judge(DONE, marks())
    assert standing(given, "stopped_by") == ["cannot_tell"]
    assert "cannot resolve a difference of less than 1.4 s" in remarks(given, "resolution")[0].sentence


def test_sharp_marks_tell_a_limit_stop_from_a_run_to_the_hard_stop():
    exact = Motor(Measured(1400), Measured(0.08), Measured(4000))
    sharp = rehearse(replace(stroke(), motor=exact))
    at = sharp.time_of("standstill").t_s
    limit = judge(sharp, [Mark("start", 0, "measured"), Mark("stop", at, "measured")])
    onto_the_stop = judge(sharp, [Mark("start", 0, "measured"), Mark("stop", at + 1.2, "measured")])
    assert standing(limit, "stopped_by") == ["fits"]
    assert "not a proof" in remarks(limit, "stopped_by")[0].sentence
    assert standing(onto_the_stop, "stopped_by") == ["differs"]


@pytest.mark.outside(
    source="common practice, no source: a dark lamp is a sign, not a proof (P27)", confidence="P"
)
def test_a_lamp_that_goes_dark_never_says_that_the_limit_stopped_the_motor():
    for remark in judge(DONE, marks()):
        if "goes dark" in remark.sentence:
            assert "not what stopped the motor" in remark.sentence
            assert "stopped by" not in remark.sentence


@pytest.mark.outside(
    source="common practice, no source: a change of 10 to 20 per cent is looked into (P14)", confidence="P"
)
@pytest.mark.parametrize(("earlier", "expected"), [(STOP_S * 1.03, "fits"), (STOP_S * 1.3, "differs")])
def test_a_change_against_earlier_jobs_or_the_other_direction_is_looked_into(earlier, expected):
    given = judge(DONE, marks(), Compared(other_direction_s=earlier, earlier_s=(earlier, earlier)))
    assert standing(given, "other_direction") == [expected]
    assert standing(given, "earlier_jobs") == [expected]


def test_a_change_within_the_marks_own_doubt_cannot_be_told():
    short = judge(DONE, marks(stop=1.0), Compared(other_direction_s=1.3))
    assert standing(short, "other_direction") == ["cannot_tell"]


@pytest.mark.parametrize(("late", "expected"), [(1.7, "fits"), (2.5, "differs")])
def test_a_lamp_fits_within_two_standard_deviations_of_its_marks(late, expected):
    exact = rehearse(replace(stroke(), motor=Motor(Measured(1400), Measured(0.08), Measured(4000))))
    due = next(event.t_s for event in exact.events if event.what == "lamp red goes dark")
    lights = next(event.t_s for event in exact.events if event.what == "lamp green lights")
    sigma = math.hypot(0.5, 0.5)
    given = judge(exact, marks(stop=due + 3, dark=due + late * sigma, lights=lights))
    assert standing(given, "lamps") == ["fits", expected]


@pytest.mark.parametrize(("apart", "said"), [(1.0, False), (2.0, True)])
def test_a_wrong_order_is_said_only_where_the_marks_can_resolve_it(apart, said):
    given = judge(DONE, marks(dark=50.0, lights=50.0 + apart))
    assert any("wants it after" in remark.sentence for remark in given) == said


def test_lamps_in_the_wrong_order_differ():
    given = judge(DONE, marks(dark=LIGHTS_S, lights=DARK_S))
    assert any("the chart wants it after" in remark.sentence for remark in remarks(given, "lamps"))


def test_a_lamp_that_nobody_marked_and_one_that_the_chart_does_not_know_are_named():
    given = judge(DONE, [*marks()[::3], Mark("lamp blue lights", 130.0)])
    sentences = " / ".join(remark.sentence for remark in remarks(given, "lamps"))
    assert "no such change" in sentences
    assert "Nobody marked that lamp red goes dark" in sentences


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ([Mark("start", 0)], "one mark for its stop"),
        ([Mark("start", 0), Mark("start", 1), Mark("stop", 5)], "here are 2"),
        ([Mark("start", 5), Mark("stop", 5)], "before the start"),
        ([Mark("start", 0), Mark("stop", float("nan"))], "not a finite"),
    ],
)
def test_marks_that_make_no_stroke_are_refused(given, words):
    with pytest.raises(BadDefinition, match=words):
        judge(DONE, given)
