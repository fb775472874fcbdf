"""Advice on the setting shafts in lines; what is advised is the domain's and is tested there."""

import pytest

from service.pages.advice_lines import NOT_YET, advice_lines
from tests.service.domain.jobs import pinned

TURN = {"rotor": "R1", "turn": "clockwise", "until": "trips", "turns": 0.4, "reason": "R1 is not tripped."}
NONE = {"rotor": "R1", "turn": "none", "until": None, "turns": None, "reason": "Look again."}


def needs_of(step):
    return pinned("default").procedure.step(step).needs


def test_a_turn_is_told_with_its_sense_its_end_how_far_and_why():
    (line,) = advice_lines(needs_of("closed_set"), [TURN])
    assert line == "R1: turn its shaft clockwise until it trips, about 0.4 turns. R1 is not tripped."


def test_how_far_is_left_out_where_it_is_not_known():
    (line,) = advice_lines(needs_of("closed_set"), [{**TURN, "turns": None}])
    assert "about" not in line


@pytest.mark.parametrize(
    ("reason", "said"),
    [("Look again.", "R1: Look again."), ("R1 is said to be set here.", "R1 is said to be set here.")],
)
def test_where_nothing_is_to_be_turned_the_reason_names_the_rotor_once(reason, said):
    assert advice_lines(needs_of("closed_set"), [{**NONE, "reason": reason}]) == (said,)


@pytest.mark.parametrize("step", ["mid_set", "closed_set", "open_set"])
def test_before_claim_and_photo_agree_no_way_to_turn_is_told(step):
    assert advice_lines(needs_of(step), []) == (NOT_YET,)


def test_steps_that_set_no_rotor_say_nothing_of_turning():
    assert advice_lines(needs_of("hand_drive"), []) == ()
