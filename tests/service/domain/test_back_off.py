"""Margins short of the hard stop: their parts, their ceiling, and the two ways to set an end."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.back_off import (
    PART_TURN_ORDER,
    MarginParts,
    advise_margin,
    part_turn_faults,
    question_about_back_off,
    question_about_lost_motion,
    site_rule_pct,
    true_margin_pct,
)
from service.domain.refusals import BadDefinition
from service.domain.travel_scale import TravelScale

SCALE = TravelScale("rising_stem", 40, 5, handwheel=12)
share = st.floats(0, 20)


@given(share, share, share, share)
def test_the_required_margin_covers_the_rule_and_the_sum_of_its_parts(rule, coast, lost, doubt):
    parts = MarginParts(rule, coast, lost, doubt)
    assert parts.required_pct == max(rule, coast + lost + doubt)


@given(share, share, share)
def test_where_tightness_allows_less_than_is_needed_nothing_is_advised_and_both_figures_show(
    rule, coast, ceiling
):
    parts = MarginParts(rule, coast, 0.0)
    advice = advise_margin(parts, ceiling)
    if parts.required_pct > ceiling:
        assert advice.margin_pct is None
        assert f"{parts.required_pct:.3g} %" in advice.reason
        assert f"{ceiling:.3g} %" in advice.reason
    else:
        assert advice.margin_pct == parts.required_pct


@pytest.mark.parametrize(("rule", "words"), [(0.5, "the site rule decides"), (0.4, "these decide")])
def test_which_part_decides_the_margin_is_said(rule, words):
    assert words in MarginParts(rule, 0.25, 0.25).reason


def test_an_unstated_tightness_is_said():
    assert "not stated" in advise_margin(MarginParts(0.1, 0.0, 0.0)).reason


@pytest.mark.outside(
    source="common practice, no source: at most half a handwheel turn back (P21)", confidence="P"
)
def test_the_common_site_rule_is_half_a_handwheel_turn():
    assert site_rule_pct(SCALE) == SCALE.pct(0.5, "handwheel")
    assert question_about_back_off(SCALE, 0.5) is None
    assert "Is so much meant?" in question_about_back_off(SCALE, 0.75)


@pytest.mark.outside(
    source="common practice, no source: a back-off of the wrong sign is refused (P1)", confidence="P"
)
@pytest.mark.parametrize("way", ["on_approach", "after_backing_off"])
def test_a_back_off_into_the_hard_stop_is_refused(way):
    with pytest.raises(BadDefinition, match="short of it"):
        true_margin_pct(way, -0.1, 0.0)
    with pytest.raises(BadDefinition, match="into the hard stop"):
        question_about_back_off(SCALE, -0.5)


@given(share, share)
def test_setting_after_backing_off_loses_the_lost_motion_of_the_margin(back_off, lost):
    assert true_margin_pct("on_approach", back_off, lost) == back_off
    assert true_margin_pct("after_backing_off", back_off, lost) == pytest.approx(max(0, back_off - lost))


def test_lost_motion_that_differs_from_the_earlier_job_is_a_question():
    assert question_about_lost_motion(0.4, 0.3) is None
    assert question_about_lost_motion(0.75, 0.5) is None
    assert "0.9 turns of lost motion now, 0.3" in question_about_lost_motion(0.9, 0.3)


def test_part_turn_valves_are_set_seat_first_then_limit_then_stop():
    assert PART_TURN_ORDER == ("seat", "limit", "stop_clearance")
    assert part_turn_faults(seat_deg=90, limit_deg=89, stop_deg=92, coast_deg=1) == []


def test_a_stop_in_the_way_of_coast_or_seat_and_a_limit_beyond_the_seat_are_named():
    assert "coast to 91" in part_turn_faults(90, 89, 90.5, 2)[0]
    assert "keeps the valve from its seat" in part_turn_faults(90, 85, 89, 1)[0]
    assert "beyond the seat" in part_turn_faults(90, 91, 95, 1)[0]


@pytest.mark.parametrize("field", ["site_rule_pct", "coast_pct", "lost_motion_pct", "uncertainty_pct"])
@pytest.mark.parametrize("bad", [-0.1, float("nan"), float("inf")])
def test_a_part_of_the_margin_that_is_no_length_is_refused_at_its_field(field, bad):
    figures = {"site_rule_pct": 0.1, "coast_pct": 0.1, "lost_motion_pct": 0.1, field: bad}
    with pytest.raises(BadDefinition) as caught:
        MarginParts(**figures)
    assert caught.value.field == f"margin.{field}"
