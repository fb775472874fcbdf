"""A stroke on the page: marks with their doubt, its time, and a reason asked for only where one differs."""

from service.definitions.procedure import load_procedure, shipped_procedure
from service.pages.stroke_lines import mark_line, stroke_view, time_line

PROCEDURE = load_procedure(shipped_procedure("default"))
STEP = next(step for step in PROCEDURE.steps if step.id == "stroke_closing")
STROKE = {
    "step": STEP.id,
    "number": 1,
    "verdict": "fits",
    "lacking": [],
    "took_s": 52.34,
    "sigma_s": 0.31,
    "expected_s": None,
    "expected_sigma_s": None,
    "from_percent": None,
    "marks": [
        {"what": "start", "t_s": 0.0, "sigma_s": 0.3, "how": "tapped", "items": ["a"]},
        {"what": "stop", "t_s": 52.34, "sigma_s": 0.3, "how": "spoken", "items": ["b", "c"]},
    ],
    "remarks": [
        {"topic": "time", "standing": "fits", "sentence": "It fits."},
        {"topic": "lamps", "standing": "differs", "sentence": "It differs."},
    ],
}


def told(**status):
    return {"needs": [{"id": need.id, "status": status.get(need.id, "met")} for need in STEP.needs]}


def test_a_step_without_a_stroke_shows_none():
    assert stroke_view(PROCEDURE.steps[0], {"needs": []}, []) is None


def test_before_any_mark_there_are_only_buttons():
    shown = stroke_view(STEP, told(stroke="unmet"), [])
    assert [one["statement"]["slots"]["at"] for one in shown["buttons"]] == ["start", "end"]
    assert (shown["marks"], shown["last"], shown["time"], shown["needs_reason"]) == ([], None, "", False)


def test_a_hand_on_the_proved_stop_comes_before_the_marks():
    assert stroke_view(STEP, told(), [])["ready"]
    assert not stroke_view(STEP, told(hand_on_stop="unmet"), [])["ready"]


def test_the_last_mark_can_be_taken_back_by_its_newest_item():
    assert stroke_view(STEP, told(), [STROKE])["last"] == "c"


def test_what_differs_stands_first():
    assert [one["standing"] for one in stroke_view(STEP, told(), [STROKE])["remarks"]] == ["differs", "fits"]


def test_a_reason_is_asked_for_only_where_nothing_but_a_stroke_that_differs_is_lacking():
    off = {**STROKE, "verdict": "differs"}
    assert stroke_view(STEP, told(stroke="unmet"), [off])["needs_reason"]
    assert not stroke_view(STEP, told(stroke="unmet", lamps="unmet"), [off])["needs_reason"]
    assert not stroke_view(STEP, told(stroke="unmet"), [STROKE])["needs_reason"]


def test_a_mark_without_a_start_says_so():
    assert mark_line({"what": "stop", "t_s": None, "sigma_s": 0.3, "how": "tapped"}) == (
        "stop: no start is marked (tapped)"
    )


def test_times_stand_with_their_doubt_and_what_is_not_known_is_said():
    assert time_line(STROKE) == "It took 52.3 s, give or take 0.6 s. What it should take is not known."
    due = {**STROKE, "expected_s": 54.0, "expected_sigma_s": 1.5, "from_percent": 90.2}
    assert time_line(due).endswith("Expected: 54.0 s, give or take 3.0 s, from 90 % open.")


def test_the_shipped_strokes_are_all_found():
    marked = [step.id for step in PROCEDURE.steps if stroke_view(step, {"needs": []}, [])]
    assert marked == ["stroke_closing", "stroke_opening"]
