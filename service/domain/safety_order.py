"""Holds a procedure to the safety order: no site may remove, weaken or reorder a gate of `safety_gates`.

A site may add steps, add needs to a step, and reorder what is no gate.
"""

from service.domain.procedure import Condition, Event, Procedure, Step, stroke_direction, stroke_need
from service.domain.refusals import BadDefinition
from service.domain.safety_gates import GATES, WAYS_BACK, Gate, Need, WayBack
from service.domain.seating import need_at, ways_back_at


def refuse_weaker(procedure: Procedure) -> None:
    """Refuse a procedure that removes, weakens or reorders a gate, or leaves out a way back.

    (1) Every gate of the procedure's extent is there, once. (2) It comes after the gates that it must come after.
    (3) It needs what it must need. (4) It is released by the person who must release it. (5) Every checkpoint that
    is judged also asks for its findings. (6) Every way back is there and makes void what it must. (7) Every stroke that
    is judged belongs to a step that asks what stopped it, and which way it went.

    Raises
    ------
    BadDefinition
        The first gate or way back that is wrong, by name.

    """
    places = _places(procedure)
    for gate in gates_of(procedure.extent):
        if gate.name not in places:  # (1)
            raise BadDefinition(f"The safety gate {gate.name} is missing: {gate.says}.", field="steps")
        _refuse_reordered(gate, places, procedure)  # (2)
        step = procedure.steps[places[gate.name]]
        for need in (need_at(need, procedure.seats) for need in gate.needs):
            if not any(_holds(need, condition) for condition in step.needs):  # (3)
                raise BadDefinition(
                    f"The safety gate {gate.name} lacks what it must need: {need.says}.",
                    field=f"steps.{step.id}",
                )
        _refuse_other_release(gate, step)  # (4)
    _refuse_judged_without_findings(procedure)  # (5)
    for way in ways_back_at(ways_back_of(procedure.extent), procedure.seats):
        _refuse_without(way, procedure, places)  # (6)
    for step in procedure.steps:
        if stroke_need(step) is not None and stroke_direction(step) is None:  # (7)
            raise BadDefinition(
                f"Step {step.id} has a stroke judged without asking what stopped it, and which way it went.",
                field=f"steps.{step.id}",
            )


def gates_of(extent: str) -> tuple[Gate, ...]:
    """Return the gates that a procedure of that extent must have."""
    return tuple(gate for gate in GATES if extent == "whole" or gate.one_checkpoint)


def ways_back_of(extent: str) -> tuple[WayBack, ...]:
    """Return the ways back that a procedure of that extent must have."""
    return tuple(way for way in WAYS_BACK if extent == "whole" or way.one_checkpoint)


def _places(procedure: Procedure) -> dict[str, int]:
    places: dict[str, int] = {}
    known = {gate.name for gate in GATES}
    for place, step in enumerate(procedure.steps):
        if step.gate is None:
            continue
        if step.gate not in known:
            raise BadDefinition(f"There is no safety gate {step.gate}.", field=f"steps[{place}].gate")
        if step.gate in places:
            raise BadDefinition(f"The safety gate {step.gate} is named twice.", field=f"steps[{place}].gate")
        places[step.gate] = place
    return places


def _refuse_reordered(gate: Gate, places: dict[str, int], procedure: Procedure) -> None:
    asked = {other.name for other in gates_of(procedure.extent)} | set(places)
    for before in gate.after:
        if before in asked and places.get(before, len(procedure.steps)) >= places[gate.name]:
            raise BadDefinition(f"The safety gate {gate.name} must come after {before}.", field="steps")


def _holds(need: Need, condition: Condition) -> bool:
    if need.kind != condition.kind or need.for_each != condition.for_each:
        return False
    if need.same_person and condition.same_person_as is None:
        return False
    if need.intent is None:
        return True
    pattern = condition.pattern
    if (
        pattern is None
        or pattern.intent != need.intent
        or ("item" in pattern.slots) != ("item" in need.slots)
    ):
        return False
    if any(pattern.slots.get(key) != value for key, value in need.slots.items()):
        return False
    return need.kind != "value" or _is_as_narrow(need, condition)


def _is_as_narrow(need: Need, condition: Condition) -> bool:
    limits = condition.limits
    if limits is None:
        return False
    least, most = need.limited
    if least is not None and (limits.minimum is None or limits.minimum < least):
        return False
    return most is None or (limits.maximum is not None and limits.maximum <= most)


def _refuse_other_release(gate: Gate, step: Step) -> None:
    if gate.released_by is None:
        return
    if step.released_by != gate.released_by or (gate.independent and not step.independent):
        who = f"{'an independent ' if gate.independent else 'a '}{gate.released_by}"
        raise BadDefinition(f"The safety gate {gate.name} is released by {who}.", field=f"steps.{step.id}")


def _refuse_judged_without_findings(procedure: Procedure) -> None:
    for step, need in procedure.conditions():
        checkpoint = need.checkpoint or step.id
        asked = [
            other.checkpoint or step.id for other in procedure.step(step.id).needs if other.kind == "findings"
        ]
        if need.kind == "judgement" and checkpoint not in asked:
            raise BadDefinition(
                f"Step {step.id} lets {checkpoint} be judged without asking for its findings.",
                field=f"steps.{step.id}",
            )


def _refuse_without(way: WayBack, procedure: Procedure, places: dict[str, int]) -> None:
    wanted = {procedure.steps[places[gate]].id for gate in way.voids if gate in places}
    if any(_is_way(way, event) and wanted <= set(event.voids) for event in procedure.events):
        return
    raise BadDefinition(f"The way back {way.id} is missing or voids too little: {way.says}.", field="events")


def _is_way(way: WayBack, event: Event) -> bool:
    if way.happening is not None:
        return event.happening == way.happening
    return any(
        pattern.intent == way.intent
        and all(way.slots.get(key) == value for key, value in pattern.slots.items())
        for pattern in event.when
    )
