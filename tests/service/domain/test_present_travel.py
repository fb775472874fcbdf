"""Where the valve stands by what was said: turns to percent, lost motion, ends, and when it is not known."""

import pytest

from service.domain.end_margin import end_margins
from service.domain.measured_turns import measured_turns
from service.domain.present_travel import MID_SIGMA_PCT, present_travel
from tests.service.domain.jobs import Rig, meet_all, pinned, play_to

TOTAL, LOST = 36, 0.25


@pytest.fixture
def rig():
    """A whole job at its hand drive, with 36 turns from stop to stop and a quarter turn lost at each reversal."""
    rig = play_to(Rig(pinned("default")), "total_turns")
    rig.say("turns", {"value": TOTAL})
    rig.say("lost_motion", {"travel": "closing", "value": LOST}, step="lost_motion")
    rig.say("lost_motion", {"travel": "opening", "value": LOST}, step="lost_motion")
    return rig


def place(rig):
    return present_travel(rig.state).place


def go(rig, *said, **where):
    for slots in said:
        intent = "turns" if {"more", "value"} & slots.keys() else "travel"
        rig.say(intent, slots, **where)


def test_the_counts_are_those_that_were_confirmed(rig):
    measured = measured_turns(rig.state)
    assert (measured.total, measured.lost) == (TOTAL, {"closed": LOST, "open": LOST})
    assert measured.pct(9) == 25


def test_after_the_count_the_place_is_unknown_until_it_is_said(rig):
    assert place(rig) is None
    assert "stop to stop" in present_travel(rig.state).why
    go(rig, {"position": "full_closed"})
    assert (place(rig).pct, place(rig).evidence) == (0, "counted")


def test_turns_from_an_end_are_percent_and_lost_motion_is_no_travel(rig):
    go(rig, {"position": "full_closed"}, {"position": "moving_open"}, {"more": 9.25})
    assert place(rig).pct == pytest.approx(25)
    assert place(rig).turns == 9
    go(rig, {"more": 9})
    assert place(rig).pct == pytest.approx(50)
    assert place(rig).sigma_pct > 0.3


def test_turns_from_the_open_end_count_down(rig):
    go(rig, {"position": "full_open"}, {"position": "moving_closed"}, {"more": 18.25})
    assert (place(rig).pct, place(rig).from_end) == (pytest.approx(50), "open")


def test_more_turns_than_there_are_make_the_place_unknown(rig):
    go(rig, {"position": "full_closed"}, {"position": "moving_open"}, {"more": 40})
    assert place(rig) is None


def test_mid_travel_is_anywhere_from_a_quarter_to_three_quarters(rig):
    go(rig, {"position": "mid_travel"})
    assert place(rig).pct == 50
    # Even spread over 50 %: standard deviation 50 / sqrt(12). Common textbook value, from memory.
    assert place(rig).sigma_pct == pytest.approx(50 / 12**0.5) == pytest.approx(MID_SIGMA_PCT)


def test_what_was_denied_is_not_known(rig):
    go(rig, {"position": "full_closed"})
    rig.type("travel", {"position": "full_closed", "negated": True})
    assert place(rig) is None


def test_what_was_not_confirmed_moves_nothing(rig):
    go(rig, {"position": "full_closed"})
    rig.type("travel", {"position": "full_open"})
    assert place(rig).pct == 0


def test_a_stated_percent_that_the_count_does_not_bear_out_is_asked_about(rig):
    go(
        rig,
        {"position": "full_closed"},
        {"position": "moving_open"},
        {"more": 9.25},
        {"of": "open", "percent": 50},
    )
    assert "Which is right?" in present_travel(rig.state).questions[0]
    assert place(rig).pct == 50


def test_an_end_is_set_short_of_its_stop_by_the_turns_backed_off():
    rig = play_to(Rig(pinned("default")), "closed_set")
    rig.say("travel", {"position": "moving_closed"})
    rig.say("travel", {"position": "backed_off", "turns": 0.5})
    margin = end_margins(rig.state)[0]
    assert (margin.end, margin.way, margin.back_off_turns) == ("closed", "on_approach", 0.5)


def test_backed_off_from_the_end_that_the_lane_sets(rig):
    rig = play_to(rig, "closed_set")
    go(rig, {"position": "moving_closed"}, {"position": "backed_off", "turns": 0.5})
    assert place(rig).pct == pytest.approx(50 / TOTAL)
    margin = end_margins(rig.state)[0]
    assert margin.margin_pct == pytest.approx(50 / TOTAL)
    assert margin.required_pct is None
    assert "figures are not stated" in margin.reason


def test_on_the_way_back_the_lost_motion_comes_off(rig):
    rig = play_to(rig, "closed_reset")
    go(rig, {"position": "backed_off", "turns": 3}, {"position": "moving_open"})
    assert place(rig).pct == pytest.approx((3 - LOST) / TOTAL * 100)


def test_a_stroke_ends_between_trip_point_and_hard_stop():
    rig = play_to(Rig(pinned("default")), "stroke_closing")
    meet_all(rig, "stroke_closing")
    assert 0 < place(rig).pct < 2


def test_the_motor_makes_the_place_unknown_until_it_is_said():
    rig = play_to(Rig(pinned("default")), "direction_check")
    rig.say("travel", {"of": "open", "percent": 50})
    assert place(rig).pct == 50
    rig.say("rotation", {"item": "motor", "state": "right_way"})
    assert place(rig) is None
