"""Show where the valve stands and what was counted on it, as plain values for the view of a job."""

from typing import Any

from service.domain.end_margin import EndMargin, end_margins
from service.domain.job_state import JobState
from service.domain.measured_turns import MeasuredTurns, measured_turns
from service.domain.present_travel import Place, present_travel


def travel_view(state: JobState) -> dict[str, Any]:
    """Return the present travel with its doubt and evidence, the counted turns, and the margin of each end set."""
    known, measured = present_travel(state), measured_turns(state)
    actuator = state.pinned.actuator
    asked = actuator.question_about_turns(measured.total) if actuator and measured.total else None
    return {
        **_place(known.place, measured),
        "moved_towards": known.arrived_towards,
        "why_unknown": known.why if known.place is None else "",
        "questions": [*known.questions, *([asked] if asked else [])],
        "lost_motion": {
            "closing": measured.lost.get("closed"),
            "opening": measured.lost.get("open"),
        },
        "percent_a_turn": _rounded(measured.pct(1.0)),
        "stem_a_turn": _stem(state, measured),
        "ends": [_end(one) for one in end_margins(state)],
    }


def _place(place: Place | None, measured: MeasuredTurns) -> dict[str, Any]:
    """Return percent and sigma of a place; `turns` and `from` where it was counted from an end."""
    if place is None:
        empty = dict.fromkeys(("percent", "sigma", "evidence", "turns", "from", "item"))
        return {**empty, "of_total": measured.total}
    return {
        "percent": _rounded(place.pct),
        "sigma": _rounded(place.sigma_pct),
        "evidence": place.evidence,
        "turns": place.turns,
        "from": place.from_end,
        "of_total": measured.total,
        "item": place.item,
    }


def _stem(state: JobState, measured: MeasuredTurns) -> dict[str, Any] | None:
    """Return what one handwheel turn moves on the valve, by the stated stroke and the counted total."""
    actuator = state.pinned.actuator
    if actuator is None or measured.total is None:
        return None
    unit = "degrees" if actuator.scale.kind == "quarter_turn" else "mm"
    return {"moves": _rounded(actuator.scale.stroke / measured.total), "unit": unit}


def _end(margin: EndMargin) -> dict[str, Any]:
    return {
        "end": margin.end,
        "back_off_turns": margin.back_off_turns,
        "way": margin.way,
        "margin_percent": _rounded(margin.margin_pct),
        "required_percent": _rounded(margin.required_pct),
        "enough": margin.enough,
        "reason": margin.reason,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
