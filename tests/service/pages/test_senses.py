import pytest

from service.pages.senses import CONTRADICTION, sense_of_turning
from tests.service.domain.jobs import pinned

BOTH = {"closing": "clockwise", "opening": "counter_clockwise"}


def needs_of(step):
    return pinned("default").procedure.step(step).needs


@pytest.mark.parametrize(
    ("step", "rotor", "same", "other"),
    [
        ("closed_set", "R1", "clockwise", "counter-clockwise"),
        ("open_set", "R2", "counter-clockwise", "clockwise"),
    ],
)
def test_the_sense_observed_in_the_trip_direction_of_the_rotor_is_the_one_that_trips_it(
    step, rotor, same, other
):
    (said,) = sense_of_turning(needs_of(step), pinned().chart, BOTH)
    assert said.startswith(f"{rotor}: ")
    assert f"Not tripped yet: turn it {same} until it just snaps." in said
    assert f"Tripped already: turn it {other} until it resets" in said


def test_nothing_is_advised_while_both_directions_are_said_to_turn_the_same_way():
    same = dict.fromkeys(BOTH, "clockwise")
    assert sense_of_turning(needs_of("closed_set"), pinned().chart, same) == (CONTRADICTION,)


def test_the_sense_is_never_inferred_from_the_other_direction():
    (said,) = sense_of_turning(needs_of("closed_set"), pinned().chart, {"opening": "clockwise"})
    assert "so nothing is advised" in said


def test_steps_that_set_no_rotor_say_nothing_of_turning():
    assert sense_of_turning(needs_of("hand_drive"), pinned().chart, BOTH) == ()
