"""What a stroke of the job is held against: where it began, what the rehearsal expects from there, what was said."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from service.domain.job_state import ClaimRecord, JobState
from service.domain.moments import moment_of
from service.domain.pinned import PinnedJob
from service.domain.present_travel import Place, present_travel
from service.domain.procedure import Step, stroke_direction, stroke_need
from service.domain.refusals import BadDefinition
from service.domain.rehearsal import Event, Rehearsal, Stroke, rehearse
from service.domain.statements import LAMP_COLOURS
from service.domain.stroke_marks import Run, TimedMark, runs_from
from service.domain.travel import Direction

STROKE_TIME = "stroke_time"
MOST_REHEARSED = 200
"""How many rehearsals of a job are kept to save time."""


def strokes_of(state: JobState) -> Iterator[Step]:
    """Yield the steps that have a stroke marked and judged, in order."""
    return (step for step in state.pinned.procedure.steps if stroke_need(step) is not None)


def whole_runs(state: JobState) -> Iterator[tuple[Direction, Run]]:
    """Yield every whole run of the job with its direction, those that became void too: the motor ran all the same."""
    for step in strokes_of(state):
        direction = stroke_direction(step)
        marks = [
            mark
            for mark in state.marks.values()
            if mark.step == step.id and not _is_taken_back(state, mark.item)
        ]
        for run in runs_from(marks):
            if direction is not None and run.is_whole:
                yield direction, run


def place_at_start(state: JobState, step: str, run: Run) -> Place | None:
    """Return where the valve stood when a run of a step began, by what was said before; None where it is not known.

    Without a marked start, by what was said before the stop of the step.
    """
    start = run.one("start")
    if start is None:
        return present_travel(
            state, lambda claim: claim.step != step or claim.statement.intent != "trip"
        ).place
    return present_travel(state, lambda claim: _was_made_before(state, claim, start)).place


def rehearsed_from(state: JobState, direction: Direction, place: Place | None) -> Rehearsal | None:
    """Return the stroke as it is to be expected from a place, the place's doubt in every time.

    None where the job states no motor or circuits, or the place is not known.
    """
    if place is None:
        return None
    known, key = state.pinned.rehearsed, (direction, place.pct, place.sigma_pct)
    if key not in known:
        if len(known) >= MOST_REHEARSED:
            known.clear()
        known[key] = _rehearse(state.pinned, direction, place)
    return known[key]


def _rehearse(pinned: PinnedJob, direction: Direction, place: Place) -> Rehearsal | None:
    actuator, circuits = pinned.actuator, pinned.circuits
    if actuator is None or circuits is None:
        return None
    motor = actuator.motor
    if motor is None:
        return None

    def play(pct: float) -> Rehearsal:
        inside = min(100.0, max(0.0, pct))
        return rehearse(
            Stroke(circuits, actuator.scale, motor, direction, inside, (), actuator.trip_sigma_pct)
        )

    try:
        central = play(place.pct)
        sides = [play(place.pct + way * place.sigma_pct) for way in (1.0, -1.0)]
    except BadDefinition:
        return None
    return replace(central, events=tuple(_with_doubt(event, sides) for event in central.events))


def stated_time(state: JobState, step: Step) -> float | None:
    """Return the stroke time in seconds that was said last for a step and confirmed."""
    said = [
        claim.statement.slots.get("value")
        for claim in state.claims.values()
        if claim.step == step.id and claim.status == "confirmed" and _is_stroke_time(claim.statement.slots)
    ]
    value = said[-1] if said else None
    return (
        float(value) if isinstance(value, int | float) and not isinstance(value, bool) and value > 0 else None
    )


def lamps_said(state: JobState, step: Step) -> dict[str, bool]:
    """Return per colour whether the lamp was said to be lit after a step's stroke, the newest word of each."""
    said: dict[str, bool] = {}
    for claim in state.claims.values():
        if claim.step == step.id and claim.status == "confirmed" and claim.statement.intent == "lamp":
            slots = claim.statement.slots
            said.update({colour: slots[colour] == "on" for colour in LAMP_COLOURS if colour in slots})
    return said


def _with_doubt(event: Event, sides: list[Rehearsal]) -> Event:
    """Return an event with the doubt of the start's place added: how far it moves when the stroke begins aside."""
    moved = [
        abs(one.t_s - event.t_s)
        for side in sides
        for one in side.events
        if (one.kind, one.what) == (event.kind, event.what)
    ]
    return replace(event, sigma_s=math.hypot(event.sigma_s, max(moved, default=0.0)))


def _was_made_before(state: JobState, claim: ClaimRecord, start: TimedMark) -> bool:
    """Return whether a claim was made before a mark, by the monotonic clock where the two share one."""
    made = moment_of(state.items[claim.item].entry) if claim.item in state.items else None
    if made is None:
        return True
    if (
        made.line == start.moment.line
        and made.monotonic_s is not None
        and start.moment.monotonic_s is not None
    ):
        return made.monotonic_s <= start.moment.monotonic_s
    return made.wall_s <= start.moment.wall_s


def _is_taken_back(state: JobState, item: str) -> bool:
    claim = state.claims.get(item)
    return claim is not None and claim.status == "withdrawn"


def _is_stroke_time(slots: Mapping[str, Any]) -> bool:
    return slots.get("quantity") == STROKE_TIME and slots.get("unit") == "s"
