"""Setting advice within a job: which way to turn which shaft, from what was said and photographed, never before."""

import pytest

from service.domain.job_advice import job_advice
from service.domain.observed_senses import handwheel_proofs, shaft_observations
from tests.service.domain.jobs import Rig, claim_and_photograph, play_to
from tests.service.domain.sample_job import sample_job


def driven(
    closes="clockwise", opens="counter_clockwise", closing="counter_clockwise", opening="clockwise", rig=None
) -> Rig:
    """The sample job with hand drive done: senses of wheel and shafts, 36 turns, a quarter lost at each reversal."""
    rig = play_to(rig or Rig(sample_job()), "hand_drive")
    rig.say("rotation", {"item": "hand_wheel", "state": "free"})
    rig.say("rotation", {"item": "hand_wheel", "travel": "closing", "sense": closes})
    rig.say("rotation", {"item": "hand_wheel", "travel": "opening", "sense": opens})
    rig.say("rotation", {"travel": "closing", "shafts": closing})
    rig.say("rotation", {"travel": "opening", "shafts": opening})
    rig.say("turns", {"value": 36}, step="total_turns")
    for towards in ("closing", "opening"):
        rig.say("lost_motion", {"travel": towards, "value": 0.25}, step="lost_motion")
    return rig


def at_closed_set(**senses) -> Rig:
    rig = play_to(driven(**senses), "closed_set")
    rig.say("travel", {"position": "moving_closed"})
    rig.say("travel", {"position": "backed_off", "turns": 0.5})
    return rig


def advice(rig, step):
    return job_advice(rig.state, rig.state.pinned.procedure.step(step))


def test_senses_of_wheel_and_shafts_are_kept_apart():
    rig = driven()
    assert {(one.sense, one.stem_towards) for one in handwheel_proofs(rig.state)} == {
        ("clockwise", "closed"),
        ("counter-clockwise", "open"),
    }
    assert len(shaft_observations(rig.state)) == 6
    assert {(one.valve_towards, one.sense) for one in shaft_observations(rig.state) if one.rotor == "R1"} == {
        ("closed", "counter-clockwise"),
        ("open", "clockwise"),
    }


@pytest.mark.outside(
    source="common practice, no source: the sense seen while the valve moves in the rotor's trip direction",
    confidence="P",
)
def test_at_the_set_point_the_shaft_is_turned_as_it_turned_in_the_rotors_own_trip_direction():
    ((one,),) = (advice(at_closed_set(), "closed_set"),)
    assert (one.advice.rotor, one.advice.turn, one.advice.until) == ("R1", "counter-clockwise", "trips")
    assert one.as_of == "both_mid"
    assert "turn it clockwise until it resets" in one.advice.reason


def test_before_the_place_is_said_nothing_is_advised():
    rig = play_to(driven(), "closed_set")
    rig.type("travel", {"position": "mid_travel", "negated": True})
    ((one,),) = (advice(rig, "closed_set"),)
    assert one.advice.turn == "none"
    assert "Say it first" in one.advice.reason


def test_away_from_the_set_point_nothing_is_advised():
    rig = play_to(driven(), "closed_set")
    rig.say("travel", {"position": "moving_closed"})
    rig.say("travel", {"position": "backed_off", "turns": 4})
    ((one,),) = (advice(rig, "closed_set"),)
    assert one.advice.turn == "none"
    assert "is set at 1.5 %" in one.advice.reason


def test_contradicting_senses_give_no_advice_but_the_contradiction():
    ((one,),) = (advice(at_closed_set(opening="counter_clockwise"), "closed_set"),)
    assert one.advice.turn == "none"
    assert "contradict each other" in one.advice.reason
    ((wheel,),) = (advice(at_closed_set(opens="clockwise"), "closed_set"),)
    assert "Prove both" in wheel.advice.reason


def test_once_the_rotor_is_said_to_have_snapped_there_is_nothing_more_to_turn():
    rig = at_closed_set()
    rig.say("gear", {"item": "setting_gear", "state": "released"})
    rig.say("snapped", {"rotor": 1, "state": "snapped"})
    ((one,),) = (advice(rig, "closed_set"),)
    assert "said to be set here" in one.advice.reason


def test_at_mid_travel_only_what_was_found_tripped_is_turned_and_only_after_claim_and_photo():
    rig = play_to(Rig(sample_job()), "as_found")
    assert all(one.as_of is None for one in advice(rig, "mid_set"))
    expected = {
        label: "open" if state == "either" else state for label, state in rig.expected("both_mid").items()
    }
    swapped = {"9": "open", "3B": "open", "17": "closed", "5A": "closed"}
    found = expected | swapped
    for state in ("closed", "open"):
        rig.say(
            "contact", {"contacts": [label for label, one in found.items() if one == state], "state": state}
        )
    rig.photograph(found)
    play_to(driven(rig=rig), "mid_set")
    rig.say("travel", {"position": "mid_travel"})
    told = {one.advice.rotor: one.advice for one in advice(rig, "mid_set")}
    assert told["R1"].turn != "none"
    assert told["R1"].until == "resets"
    assert told["R2"].turn == "none"


def test_a_rotor_whose_claim_and_photo_differ_is_not_advised_on():
    rig = play_to(Rig(sample_job()), "as_found")
    claim_and_photograph(rig, "as_found", wrong=("9",))
    assert rig.passed("as_found")
    play_to(rig, "mid_set")
    rig.say("travel", {"position": "mid_travel"})
    told = {one.advice.rotor: one.advice.reason for one in advice(rig, "mid_set")}
    assert "both agree" in told["R1"]
