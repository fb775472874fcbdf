"""Which way to turn a setting shaft: the eight cases of the trade, and what keeps the answer back."""

from dataclasses import replace

import pytest

from service.domain.back_off import MarginParts, advise_margin
from service.domain.refusals import BadDefinition
from service.domain.setting_advice import HandwheelProof, Observation, Situation, advise, reverse
from service.domain.travel import Travel
from service.domain.travel_scale import TravelScale
from tests.service.domain.charts import two_ended_chart

CHART = two_ended_chart()  # R1 trips towards closed at 2 %, R2 towards open at 97 %
SCALE = TravelScale("rising_stem", 40, 5, handwheel=12, setting_shaft=2.0)


def at_end(rotor="R1", sense="clockwise", *, snapped=False, **changes) -> Situation:
    own = CHART.rotor(rotor)
    away = "open" if own.trips_towards == "closed" else "closed"
    situation = Situation(
        travel=Travel(own.trip_pct),
        arrived_towards=own.trips_towards,
        tripped={"R1": False, "R2": False, rotor: snapped},
        observations=(
            Observation(rotor, own.trips_towards, sense),
            Observation(rotor, away, reverse(sense)),
        ),
        handwheel=(HandwheelProof("clockwise", "closed"),),
        mid_travel_shown=True,
    )
    return replace(situation, **changes)


def advice(situation, rotor="R1", scale=None):
    return next(one for one in advise(CHART, situation, scale) if one.rotor == rotor)


@pytest.mark.outside(
    source="common practice, no source: sense of a setting shaft at the end of travel (P23)", confidence="P"
)
@pytest.mark.parametrize("rotor", ["R1", "R2"])
@pytest.mark.parametrize("sense", ["clockwise", "counter-clockwise"])
@pytest.mark.parametrize("tripped", [False, True])
def test_the_eight_cases(rotor, sense, tripped):
    given = advice(at_end(rotor, sense, snapped=tripped), rotor)
    assert given.turn == (reverse(sense) if tripped else sense)
    assert given.until == ("resets" if tripped else "trips")


def test_a_tripped_rotor_is_told_to_come_back_until_it_snaps():
    assert "then come back clockwise until it just snaps" in advice(at_end(snapped=True)).reason


def test_how_far_follows_from_where_the_rotor_trips_now():
    not_yet = advice(at_end(trips_now_at_pct={"R1": 1.0}), scale=SCALE)
    assert not_yet.turns == pytest.approx(SCALE.turns(1.0, "setting_shaft"))
    already = advice(at_end(snapped=True, trips_now_at_pct={"R1": 4.0}), scale=SCALE)
    assert already.turns == pytest.approx(SCALE.turns(2.0 + 1.0, "setting_shaft"))


def test_how_far_stays_unsaid_without_a_scale():
    assert advice(at_end(trips_now_at_pct={"R1": 1.0})).turns is None


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"handwheel": ()}, "never assumed"),
        ({"mid_travel_shown": False}, "mid-travel state"),
        ({"moved_while_released": True}, "both ends are void"),
        ({"arrived_towards": "open"}, "lost motion out first"),
        ({"travel": Travel(5.0)}, "is set at 2 %"),
        ({"tripped": {"R2": False}}, "not stated"),
        ({"observations": ()}, "Observe the setting shaft"),
        ({"trips_now_at_pct": {"R1": 3.0}}, "contradict each other"),
    ],
)
def test_nothing_is_turned_while_something_is_missing_or_wrong(changes, words):
    given = advice(at_end(**changes))
    assert (given.turn, given.until, given.turns) == ("none", None, None)
    assert words in given.reason


def test_no_setting_is_advised_where_tightness_allows_less_than_the_margin():
    too_much = advise_margin(MarginParts(0.1, 3.0, 0.5), ceiling_pct=2.0)
    given = advice(at_end(margin=too_much))
    assert given.turn == "none"
    assert "3.5 %" in given.reason
    assert "2 %" in given.reason


def test_a_set_point_closer_to_the_hard_stop_than_the_margin_is_not_set():
    given = advice(at_end(margin=advise_margin(MarginParts(0.1, 2.0, 0.5), ceiling_pct=5.0)))
    assert given.turn == "none"
    assert "coasts into it" in given.reason


def test_a_back_off_that_leaves_less_than_the_margin_is_not_set():
    margin = advise_margin(MarginParts(1.0, 0.3, 0.5))
    short = advice(at_end(margin=margin, way="after_backing_off", true_margin_pct=0.9))
    assert short.turn == "none"
    assert "Back off further" in short.reason
    assert advice(at_end(margin=margin, way="after_backing_off", true_margin_pct=1.0)).turn != "none"


def test_a_set_point_that_leaves_just_the_margin_is_set():
    assert (
        advice(at_end(margin=advise_margin(MarginParts(2.0, 0.5, 0.5), ceiling_pct=5.0))).turn == "clockwise"
    )


@pytest.mark.parametrize(
    ("pct", "turn"),
    [(24.9, "none"), (25.0, "counter-clockwise"), (75.0, "counter-clockwise"), (75.1, "none")],
)
def test_mid_travel_is_from_25_to_75_percent(pct, turn):
    assert advice(at_end(snapped=True, goal="mid_travel", travel=Travel(pct))).turn == turn


def test_a_torque_seated_end_and_a_mid_travel_state_need_no_margin():
    too_much = advise_margin(MarginParts(0.1, 3.0, 0.5), ceiling_pct=2.0)
    seated = replace(CHART, closed_end="torque")
    assert advise(seated, at_end(margin=too_much))[0].turn == "clockwise"
    at_mid = at_end(snapped=True, goal="mid_travel", travel=Travel(50.0), margin=too_much)
    assert advice(at_mid).turn == "counter-clockwise"


def test_setting_after_backing_off_says_what_the_true_margin_is():
    given = advice(at_end(arrived_towards="open", way="after_backing_off"))
    assert "back-off less the lost motion" in given.reason


@pytest.mark.outside(
    source="common practice, no source: both senses are observed, not inferred (P25)", confidence="P"
)
def test_one_observed_sense_is_said_and_the_other_direction_alone_is_not_enough():
    observed = at_end().observations
    assert "Only one" in advice(replace(at_end(), observations=observed[:1])).reason
    assert advice(replace(at_end(), observations=observed[1:])).turn == "none"


@pytest.mark.outside(
    source="common practice, no source: mid-travel state first, ends later (P24)", confidence="P"
)
def test_at_mid_travel_a_tripped_end_rotor_is_reset_and_a_resting_one_left():
    situation = at_end(snapped=True, goal="mid_travel", travel=Travel(50.0), mid_travel_shown=False)
    assert (advice(situation).turn, advice(situation).until) == ("counter-clockwise", "resets")
    assert "nothing to turn" in advice(situation, "R2").reason
    assert "between 25 and 75" in advice(replace(situation, travel=Travel(90.0))).reason


@pytest.mark.outside(
    source="common practice, no source: take up lost motion in the trip direction (P2)", confidence="P"
)
def test_set_on_approach_asks_for_a_last_movement_in_the_trip_direction():
    assert advice(at_end(arrived_towards="open")).turn == "none"
    assert advice(at_end(arrived_towards="open", way="after_backing_off")).turn == "clockwise"


def test_a_shaft_that_turns_alike_in_both_directions_contradicts_itself():
    both = (Observation("R1", "closed", "clockwise"), Observation("R1", "open", "clockwise"))
    with pytest.raises(BadDefinition, match="contradict each other") as caught:
        at_end(observations=both)
    assert caught.value.field == "observations[1].sense"


def test_a_shaft_that_turns_both_ways_in_one_direction_contradicts_itself():
    both = (Observation("R1", "closed", "clockwise"), Observation("R1", "closed", "counter-clockwise"))
    with pytest.raises(BadDefinition, match="no advice until then"):
        at_end(observations=both)


def test_a_handwheel_that_closes_both_ways_contradicts_itself():
    both = (HandwheelProof("clockwise", "closed"), HandwheelProof("counter-clockwise", "closed"))
    with pytest.raises(BadDefinition, match="Prove both again") as caught:
        at_end(handwheel=both)
    assert caught.value.field == "handwheel[1].sense"


def test_a_rotor_that_the_chart_does_not_have_is_refused():
    with pytest.raises(BadDefinition, match="no rotor R9"):
        advise(CHART, at_end(tripped={"R9": True}))
