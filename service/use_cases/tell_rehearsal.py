"""Tell how a stroke will go, and what the marks of a real one say; command and API tell the same."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from service.domain.circuit_report import every_danger
from service.domain.fields import in_part
from service.domain.motor import duty_questions
from service.domain.rehearsal import Rehearsal, Stroke, rehearse
from service.domain.stroke import Mark, Remark, judge
from service.domain.travel import Direction
from service.domain.travel_scale import Shaft, TravelScale
from service.ports import ValveStated, Wiring

WIDE = 2.0
"""Standard deviations within which something may be."""
SHAFTS: tuple[Shaft, ...] = ("handwheel", "motor", "setting_shaft")
CAUTION = "Predicted from stated figures. Under power keep a hand on a proved stop; local rules come first."


@dataclass(frozen=True)
class RehearsalTold:
    """What is told as JSON, and what a plot needs: the stroke and how it goes.

    `found` says that something is wrong: nothing stops the stroke, it meets the hard stop, a mark differs. `marks`
    are those that were judged.
    """

    said: Mapping[str, Any]
    stroke: Stroke
    done: Rehearsal
    found: bool
    marks: tuple[Mark, ...] = ()


def tell_rehearsal(valve: ValveStated, wiring: Wiring, towards: Direction | None = None) -> RehearsalTold:
    """Return the stroke that the valve states, or a whole one in the direction asked for."""
    stroke = valve.stroke(wiring.circuits, towards)
    with in_part("", {"motor.deceleration_rpm_s": "motor.deceleration"}):
        done = rehearse(stroke)
    remarks = _judged(valve, stroke, done)
    said = {
        **_stroke(stroke, done),
        "margin": _margin(valve, stroke, done),
        "scale": _scale(stroke.scale),
        "questions": list(_questions(valve, wiring, stroke, done)),
    }
    if remarks:
        said["judged"] = [
            {"topic": remark.topic, "standing": remark.standing, "sentence": remark.sentence}
            for remark in remarks
        ]
    wrong = done.stopped_by in {"nothing", "does not start"} or done.overrun_pct > 0
    found = wrong or any(remark.standing == "differs" for remark in remarks)
    return RehearsalTold(said, stroke, done, found, valve.marks if remarks else ())


def _margin(valve: ValveStated, stroke: Stroke, done: Rehearsal) -> dict[str, Any] | None:
    """Return the margin that this end needs, in percent and as the technician counts it; None without a limit stop."""
    if done.coast_pct is None or stroke.scale.handwheel is None or done.stopped_by != "limit":
        return None
    advice = valve.margin(done.coast_pct + done.overrun_pct)
    needed = advice.margin_pct
    return {
        "margin_pct": _rounded(needed),
        "handwheel_turns": None if needed is None else _rounded(stroke.scale.turns(needed, "handwheel")),
        "distance": None if needed is None else _rounded(stroke.scale.distance(needed)),
        "trips_short_of_stop_pct": _rounded(done.coast_pct + (done.left_pct or 0.0)),
        "reason": advice.reason,
    }


def _scale(scale: TravelScale) -> dict[str, Any]:
    """Return the whole travel as each shaft counts it, and on the valve: mm of the stem or degrees of its shaft."""
    return {
        "kind": scale.kind,
        "stroke": _rounded(scale.stroke),
        "unit": "deg" if scale.kind == "quarter_turn" else "mm",
        "drive_turns": _rounded(scale.drive_turns),
        **{
            f"{shaft}_turns": None if getattr(scale, shaft) is None else _rounded(scale.turns(100.0, shaft))
            for shaft in SHAFTS
        },
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _judged(valve: ValveStated, stroke: Stroke, done: Rehearsal) -> tuple[Remark, ...]:
    """Judge the stated marks; they are those of the stroke in the file, not of one asked for instead."""
    if not valve.marks or valve.stroke_towards != stroke.direction:
        return ()
    with in_part("stroke"):
        return judge(done, valve.marks, valve.compared)


def _questions(valve: ValveStated, wiring: Wiring, stroke: Stroke, done: Rehearsal) -> Iterator[str]:
    """Return what the figures give reason to ask about, and the margin with its parts; dangers first."""
    for danger in every_danger(wiring.circuits, wiring.indication_within_pct):
        yield f"Dangerous to set, {danger.field}: {danger.reason}"
    yield from valve.questions
    if stroke.scale.kind == "quarter_turn":
        yield from valve.part_turn_faults(stroke.direction, done.coast_pct)
    if done.coast_pct is not None and stroke.scale.handwheel is not None and done.stopped_by == "limit":
        advice = valve.margin(done.coast_pct + done.overrun_pct)
        yield f"Margin: {advice.reason}"
        short_of = done.coast_pct + (done.left_pct or 0.0)
        if advice.margin_pct is not None and short_of < advice.margin_pct:
            yield f"The limit trips {short_of:.3g} % short of the hard stop; more is needed."
    near = done.left_pct is not None and done.left_pct < WIDE * done.left_sigma_pct
    if done.stopped_by == "limit" and near and done.overrun_pct == 0:
        yield "Within the doubt of these figures the valve may meet its hard stop."
    if done.overrun_pct > 0:
        yield "The coast is longer than the margin: the valve would meet its hard stop."
    yield from duty_questions([*valve.earlier_runs, (0.0, done.events[-1].t_s)], valve.duty)


def _stroke(stroke: Stroke, done: Rehearsal) -> dict[str, Any]:
    turning = stroke.scale.kind == "quarter_turn"
    left = None if done.left_pct is None else round(stroke.scale.distance(done.left_pct), 4)
    used = done.margin_used
    return {
        "events": [
            {
                "t_s": round(event.t_s, 4),
                "sigma_s": round(event.sigma_s, 4),
                "travel_pct": round(event.travel_pct, 4),
                "what": event.what,
            }
            for event in done.events
        ],
        "stopped_by": stopped_by(done),
        "left_to_stop_mm": None if turning else left,
        "left_to_stop_deg": left if turning else None,
        "left_sigma": round(stroke.scale.distance(done.left_sigma_pct), 4),
        "coast_pct": None if done.coast_pct is None else round(done.coast_pct, 4),
        "margin_used": None if used is None or math.isinf(used) else round(used, 4),
        "towards": stroke.direction,
    }


def stopped_by(done: Rehearsal) -> str:
    """Return in words what stops the stroke."""
    names = f"contact {' and '.join(done.by_contacts)}" if done.by_contacts else "the circuit"
    words = {
        "limit": names,
        "torque": "torque switch",
        "nothing": "nothing",
        "does not start": f"does not start: {names} open",
    }
    return words[done.stopped_by]
