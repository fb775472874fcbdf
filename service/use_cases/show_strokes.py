"""Show strokes and setting advice of a job as plain values for its view."""

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from service.domain.job_advice import job_advice
from service.domain.job_state import JobState
from service.domain.procedure import Step
from service.domain.stroke_expected import strokes_of
from service.domain.stroke_judged import JudgedStroke, every_stroke

May = Callable[[str, str | None], bool]
"""Tells whether something of a step may be shown to this person."""


def strokes_view(state: JobState) -> list[dict[str, Any]]:
    """Return every stroke that was marked or timed, step by step in the order of time."""
    return [_stroke(state, one) for step in strokes_of(state) for one in every_stroke(state, step.id)]


def _stroke(state: JobState, stroke: JudgedStroke) -> dict[str, Any]:
    start = stroke.run.one("start")
    return {
        "step": stroke.step,
        "title": state.pinned.procedure.step(stroke.step).title,
        "number": stroke.number,
        "direction": stroke.direction,
        "verdict": stroke.verdict,
        "lacking": list(stroke.lacking),
        "took_s": _rounded(stroke.took_s),
        "sigma_s": _rounded(stroke.sigma_s),
        "stated_s": stroke.stated_s,
        "expected_s": _rounded(stroke.expected_s),
        "expected_sigma_s": _rounded(stroke.expected_sigma_s),
        "from_percent": _rounded(stroke.from_pct),
        "from_sigma": _rounded(stroke.from_sigma_pct),
        "stopped_by": stroke.stopped_by,
        "marks": [
            {
                "what": mark.what,
                "t_s": _rounded(mark.t_s - start.t_s) if start else None,
                "sigma_s": _rounded(mark.sigma_s),
                "how": mark.how,
                "items": list(mark.items),
                "persons": list(mark.persons),
            }
            for mark in stroke.run.marks
        ],
        "remarks": [asdict(remark) for remark in stroke.remarks],
    }


def advice_view(state: JobState, step: Step, may: May) -> list[dict[str, Any]]:
    """Return the advice for the rotors that a step sets, once this person may know what it rests on."""
    return [
        {
            "rotor": one.advice.rotor,
            "turn": one.advice.turn,
            "until": one.advice.until,
            "turns": _rounded(one.advice.turns),
            "reason": one.advice.reason,
            "as_of": one.as_of,
        }
        for one in job_advice(state, step)
        if one.as_of is not None and may("finding", one.as_of)
    ]


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
