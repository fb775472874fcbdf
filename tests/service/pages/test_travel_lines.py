"""Where the valve stands, in lines: figures with their doubt, and what is not known said with its reason."""

import pytest

from service.domain.procedure import Condition
from service.domain.statements import Pattern
from service.pages.travel_lines import counted, is_about_travel, standing

UNKNOWN = {
    "percent": None,
    "sigma": None,
    "evidence": None,
    "turns": None,
    "from": None,
    "of_total": None,
    "why_unknown": "The motor has moved the valve since its place was last said.",
    "lost_motion": {"closing": None, "opening": None},
    "percent_a_turn": None,
    "stem_a_turn": None,
    "ends": [],
}
COUNTED = {**UNKNOWN, "percent": 7.5, "sigma": 0.31, "evidence": "counted", "turns": 3.0, "of_total": 40.0}
COUNTED |= {"from": "closed", "percent_a_turn": 2.5}
END = {
    "end": "closed",
    "back_off_turns": 0.5,
    "margin_percent": 1.25,
    "required_percent": 1.0,
    "enough": True,
    "reason": "",
}


def test_a_counted_place_is_told_with_its_doubt_its_turns_and_its_end():
    assert standing(COUNTED) == "Stands at 8 % open, give or take 0.6: 3 of 40 turns from the closed end."


def test_a_stated_place_is_never_told_as_if_it_had_been_counted():
    stated = {**UNKNOWN, "percent": 50.0, "sigma": 14.43, "evidence": "stated"}
    assert standing(stated) == "Stands at 50 % open, give or take 29: as stated."


def test_an_unknown_place_is_told_with_its_reason():
    assert standing(UNKNOWN) == (
        "Where the valve stands is not known. The motor has moved the valve since its place was last said."
    )


def test_nothing_counted_gives_no_line():
    assert counted(UNKNOWN) == []


def test_what_was_counted_stands_line_by_line():
    known = {
        **COUNTED,
        "stem_a_turn": {"moves": 3.2, "unit": "mm"},
        "lost_motion": {"closing": 0.5, "opening": 0.25},
    }
    assert counted({**known, "ends": [END]}) == [
        "One turn of the handwheel is 2.5 %, 3.2 mm; 40 turns from stop to stop.",
        "Turns lost after a reversal: 0.5 closing, 0.25 opening.",
        "Closed end: set 0.5 turns short of its stop, a true margin of 1.2 % where 1 % are needed. Enough.",
    ]


@pytest.mark.parametrize(("enough", "word"), [(False, "Too little."), (None, "turns short of its stop.")])
def test_a_margin_is_called_enough_only_where_it_was_found_so(enough, word):
    told = {**END, "enough": enough, "required_percent": None, "margin_percent": None}
    line = counted({**COUNTED, "ends": [told]})[-1]
    assert line.endswith(word)
    assert "nough" not in line


def test_only_steps_that_move_or_place_the_valve_tell_where_it_stands():
    asking = {
        intent: Condition(id="one", kind="statement", says="one", pattern=Pattern(intent, {}))
        for intent in ("travel", "permit")
    }
    assert is_about_travel([asking["travel"]])
    assert not is_about_travel([asking["permit"]])
