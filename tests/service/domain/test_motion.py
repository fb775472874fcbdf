"""The movement in time against a plain integration in small steps."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.motion import Motion, motion_of
from service.domain.motor import Measured, Motor
from service.domain.travel_scale import TravelScale

motions = st.builds(
    Motion, st.floats(0.2, 10), st.floats(0, 2), st.floats(0, 0.5), st.floats(1, 50), st.floats(2, 20)
)


def stepped(motion: Motion, until: float, step: float = 1e-3) -> float:
    """Move in steps of a millisecond: full speed until the drop-out, then slower by the deceleration."""
    moved, speed, at = 0.0, motion.speed, motion.start_s
    while at < until:
        if at >= motion.open_s + motion.drop_out_s:
            speed = max(0.0, speed - motion.deceleration * step)
        moved += speed * step
        at += step
    return moved


@given(motions, st.floats(0.1, 30))
def test_the_way_covered_is_that_of_a_step_by_step_movement(motion, time_s):
    assert motion.moved_at(time_s) == pytest.approx(stepped(motion, time_s), abs=motion.speed * 0.01)


@given(motions, st.floats(0.01, 0.99))
def test_the_time_at_a_place_is_when_that_place_is_reached(motion, share):
    moved = share * motion.stands_at
    assert motion.moved_at(motion.time_at(moved)) == pytest.approx(moved, rel=1e-6, abs=1e-9)


@given(motions)
def test_beyond_the_standstill_no_place_is_ever_reached(motion):
    assert motion.time_at(motion.stands_at + 0.01) == math.inf
    assert motion.moved_at(motion.stands_at_s + 5) == pytest.approx(motion.stands_at)


def test_without_an_open_circuit_the_valve_never_stands():
    assert Motion(1.0, 0.0, 0.1, 5.0).stands_at == math.inf


@pytest.mark.outside(
    source="worked arithmetic: 40 turns, 1400 r/min, 50:1 take 85.714 s (6.7)", confidence="C"
)
def test_a_stroke_of_forty_turns_at_28_a_minute_takes_85_714_seconds():
    motor = Motor(Measured(1400), Measured(0), Measured(4000))
    assert motion_of(motor, TravelScale("rising_stem", 40, 5, motor=50)).time_at(100) == pytest.approx(
        85.714, abs=5e-4
    )


@pytest.mark.outside(
    source="worked arithmetic: 60 Hz instead of 50 Hz shortens the stroke by 50/60 (6.7)", confidence="C"
)
def test_the_stroke_time_goes_with_the_supply_frequency():
    scale = TravelScale("rising_stem", 40, 5, motor=50)
    fifty, sixty = (
        motion_of(Motor(Measured(28.0 * hz), Measured(0), Measured(4000)), scale).time_at(100)
        for hz in (50, 60)
    )
    assert sixty / fifty == pytest.approx(50 / 60)


@pytest.mark.outside(
    source="worked arithmetic: 1440 real against 1500 synchronous, stroke x 1.041667 (6.7)", confidence="C"
)
def test_a_time_from_the_synchronous_speed_is_too_short_by_the_slip():
    scale = TravelScale("rising_stem", 40, 5, motor=50)
    real, ideal = (
        motion_of(Motor(Measured(rpm), Measured(0), Measured(4000)), scale).time_at(100)
        for rpm in (1440, 1500)
    )
    assert real / ideal == pytest.approx(1.041667, abs=5e-7)
