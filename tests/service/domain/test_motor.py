"""Speeds, slip, phase order and duty, against published figures."""

from itertools import permutations

import pytest

from service.domain.motor import (
    Duty,
    Measured,
    Motor,
    duty_questions,
    is_forward,
    loaded_rpm,
    rotation,
    slip_of,
    synchronous_rpm,
)
from service.domain.refusals import BadDefinition


@pytest.mark.outside(source="synchronous speed n = 120 f / p at 50 Hz (M1)", confidence="C")
@pytest.mark.parametrize(("poles", "rpm"), [(2, 3000), (4, 1500), (6, 1000), (8, 750), (10, 600), (12, 500)])
def test_synchronous_speeds_at_50_hz(poles, rpm):
    assert synchronous_rpm(50, poles) == rpm


@pytest.mark.outside(source="synchronous speed n = 120 f / p at 60 Hz (M1)", confidence="C")
@pytest.mark.parametrize(("poles", "rpm"), [(2, 3600), (4, 1800), (6, 1200), (8, 900), (10, 720), (12, 600)])
def test_synchronous_speeds_at_60_hz(poles, rpm):
    assert synchronous_rpm(60, poles) == rpm


@pytest.mark.outside(source="slip of 1440 r/min at 1500 and of 1750 at 1800 (M2)", confidence="C")
@pytest.mark.parametrize(("synchronous", "real", "slip"), [(1500, 1440, 0.04), (1800, 1750, 0.02778)])
def test_slip_is_the_share_of_speed_that_is_missing(synchronous, real, slip):
    assert slip_of(synchronous, real) == pytest.approx(slip, abs=5e-6)


@pytest.mark.outside(source="three of the six phase orders turn forward (M5)", confidence="C")
def test_the_cyclic_phase_orders_turn_forward_and_the_others_reverse():
    forward = {order for order in permutations(("L1", "L2", "L3")) if is_forward(order)}
    assert forward == {("L1", "L2", "L3"), ("L2", "L3", "L1"), ("L3", "L1", "L2")}


@pytest.mark.outside(
    source="IEC 60034-8: phases in order turn clockwise facing the drive end (M4)", confidence="V2"
)
def test_phases_in_order_turn_clockwise_and_an_exchange_reverses():
    assert rotation(["L1", "L2", "L3"]) == "clockwise"
    assert rotation(["L2", "L1", "L3"]) == "counter-clockwise"


@pytest.mark.outside(source="IEC 60034-8: exchanging any two phases reverses the motor (M3)", confidence="V2")
def test_exchanging_any_two_phases_reverses_the_motor():
    for a, b in ((0, 1), (0, 2), (1, 2)):
        order = ["L1", "L2", "L3"]
        order[a], order[b] = order[b], order[a]
        assert not is_forward(order)


def test_speed_under_load_is_the_synchronous_speed_less_the_slip():
    assert loaded_rpm(50, 4, 0.04) == pytest.approx(1440)


def test_runs_beyond_the_plate_are_named():
    duty = Duty(longest_run_s=100, rest_s=60, starts_an_hour=2)
    found = duty_questions([(0, 90), (100, 230), (400, 480)], duty)
    assert [sentence.split(";")[0] for sentence in found] == [
        "Run 2 took 130 s",
        "Run 2 began 10 s after the last",
        "Run 3 is start 3 within an hour",
    ]
    assert duty_questions([(0, 90), (100, 230)], Duty()) == []


@pytest.mark.parametrize("runs", [[(10, 5)], [(0, 20), (10, 30)]])
def test_runs_that_overlap_or_end_before_they_start_are_refused(runs):
    with pytest.raises(BadDefinition, match="follow each other"):
        duty_questions(runs, Duty())


@pytest.mark.parametrize(("hz", "poles"), [(0, 4), (-50, 4), (float("nan"), 4), (50, 3), (50, 0)])
def test_a_supply_or_pole_number_that_there_is_not_is_refused(hz, poles):
    with pytest.raises(BadDefinition) as caught:
        synchronous_rpm(hz, poles)
    assert caught.value.field in {"motor.supply_hz", "motor.poles"}


@pytest.mark.parametrize(
    ("field", "bad"),
    [
        ("speed_rpm", 0.0),
        ("speed_rpm", -1.0),
        ("deceleration_rpm_s", 0.0),
        ("drop_out_s", -0.1),
        ("start_s", -1.0),
    ],
)
def test_a_motor_figure_that_is_none_is_refused_at_its_field(field, bad):
    figures = {"speed_rpm": Measured(1400), "drop_out_s": Measured(0.1), "deceleration_rpm_s": Measured(4000)}
    with pytest.raises(BadDefinition) as caught:
        Motor(**{**figures, field: Measured(bad)})
    assert caught.value.field == f"motor.{field}"


@pytest.mark.parametrize(
    ("value", "sigma"), [(float("nan"), 0), (float("inf"), 0), (1, -1), (1, float("nan"))]
)
def test_a_measured_figure_is_finite_and_its_doubt_is_none_or_more(value, sigma):
    with pytest.raises(BadDefinition):
        Measured(value, sigma)
