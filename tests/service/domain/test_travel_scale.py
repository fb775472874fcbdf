"""Turns, millimetres, degrees and percent, against published worked arithmetic and by round trip."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.refusals import BadDefinition
from service.domain.threads import thread_of
from service.domain.travel_scale import (
    TravelScale,
    from_other_end,
    inches_of_dn,
    plausible_gate_turns,
    quarter_turn_scale,
    question_about_capacity,
    question_about_history,
    question_about_turns,
)

positive = st.floats(0.01, 1e4)
scales = st.builds(TravelScale, st.just("rising_stem"), positive, positive, positive, positive, positive)


@pytest.mark.outside(source="worked travel arithmetic: 40 turns, Tr 28x5 single start (6.7)", confidence="C")
def test_forty_turns_of_a_lead_of_five_are_two_hundred_millimetres():
    assert TravelScale("rising_stem", 40, thread_of("Tr 28x5").lead_mm).stroke == 200


@pytest.mark.outside(source="worked travel arithmetic: 10 turns, Tr 60x18(P9) (6.7)", confidence="C")
def test_ten_turns_of_a_two_start_stem_move_by_the_lead_and_not_by_the_pitch():
    thread = thread_of("Tr 60x18(P9)")
    assert TravelScale("rising_stem", 10, thread.lead_mm).stroke == 180
    assert TravelScale("rising_stem", 10, thread.pitch_mm).stroke == 90


@pytest.mark.outside(
    source="worked travel arithmetic: half a handwheel turn at 12:1 on 40 turns (6.7)", confidence="C"
)
def test_half_a_handwheel_turn_in_percent_of_travel():
    scale = TravelScale("rising_stem", 40, 5, handwheel=12)
    pct = scale.pct(0.5, "handwheel")
    assert scale.turns(pct) == pytest.approx(0.041667, abs=5e-7)
    assert pct == pytest.approx(0.104167, abs=5e-7)


@pytest.mark.outside(source="percent open with reversed sense: p' = 100 - p (6.7)", confidence="C")
def test_travel_from_the_other_end_is_a_hundred_less_and_never_a_change_of_sign():
    assert [from_other_end(pct) for pct in (0, 37.5, 100)] == [100, 62.5, 0]


@pytest.mark.outside(
    source="waterworks rule for gate valves: turns = 3 x inches + 2 to 3 (U1)", confidence="V2"
)
@pytest.mark.parametrize(("inches", "low", "high"), [(4, 14, 15), (6, 20, 21), (8, 26, 27), (12, 38, 39)])
def test_turns_of_a_gate_valve_by_its_size(inches, low, high):
    assert plausible_gate_turns(inches) == (low, high)


@pytest.mark.outside(
    source="ASME B36.10M, correspondence of DN and NPS: 50 2, 80 3, 100 4, 150 6, 300 12, 600 24; from memory",
    confidence="M",
)
@pytest.mark.parametrize(("dn", "inches"), [(50, 2), (80, 3), (100, 4), (150, 6), (300, 12), (600, 24)])
def test_a_metric_size_is_its_size_in_inches(dn, inches):
    assert inches_of_dn(dn) == inches


@given(scales, st.floats(0, 100), st.sampled_from(["drive", "handwheel", "motor", "setting_shaft"]))
def test_turns_to_percent_and_back_is_the_same_travel(scale, pct, shaft):
    assert scale.pct(scale.turns(pct, shaft), shaft) == pytest.approx(pct, abs=1e-9)
    assert scale.pct_of_distance(scale.distance(pct)) == pytest.approx(pct, abs=1e-9)


def test_a_quarter_turn_behind_a_gearbox_takes_a_quarter_of_the_ratio():
    scale = quarter_turn_scale(60.0, handwheel=10)
    assert (scale.drive_turns, scale.per_turn, scale.stroke) == (15.0, 6.0, 90.0)
    assert scale.turns(100, "handwheel") == 150


def test_a_count_far_from_the_usual_is_a_question_and_a_usual_one_is_none():
    assert question_about_turns(6, 20.5) is None
    assert "not the table" in question_about_turns(6, 40)


def test_total_turns_that_differ_from_the_earlier_job_are_a_question():
    assert question_about_history(40.2, 40.0) is None
    assert "+1.5 turns" in question_about_history(41.5, 40.0)


def test_a_switch_that_cannot_follow_the_valve_with_margin_does_not_fit():
    scale = TravelScale("rising_stem", 46, 5)
    assert question_about_capacity(scale, 52) is None
    assert "does not fit" in question_about_capacity(scale, 50)


def test_a_ratio_that_is_not_stated_is_asked_for_by_name():
    with pytest.raises(BadDefinition) as caught:
        TravelScale("rising_stem", 40, 5).turns(10, "setting_shaft")
    assert caught.value.field == "scale.setting_shaft"


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
@pytest.mark.parametrize("field", ["drive_turns", "per_turn", "handwheel", "motor", "setting_shaft"])
def test_a_figure_that_is_no_turn_or_lead_is_refused_at_its_field(field, bad):
    figures = {"drive_turns": 40.0, "per_turn": 5.0, field: bad}
    with pytest.raises(BadDefinition) as caught:
        TravelScale("rising_stem", **figures)
    assert caught.value.field == f"scale.{field}"
