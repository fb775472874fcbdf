"""The safety order: the gates that no site may remove, weaken or put in another order.

A site may add steps, add needs to a step, and reorder what is no gate. Each gate names the gates that come before it,
what it needs at least, and who releases it; the sources stand beside the steps of the shipped procedures.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from service.domain.people import Role
from service.domain.procedure import Condition, ConditionKind, ForEach, Procedure, Step
from service.domain.refusals import BadDefinition
from service.domain.statements import fits, statement_of


@dataclass(frozen=True)
class Need:
    """What a gate needs at least: a condition of that kind, with those slots, repeated for those parts."""

    kind: ConditionKind
    says: str
    intent: str | None = None
    slots: Mapping[str, object] = field(default_factory=dict)
    for_each: ForEach | None = None
    same_person: bool = False


@dataclass(frozen=True)
class Gate:
    """One gate of the safety order."""

    name: str
    says: str
    after: tuple[str, ...] = ()
    needs: tuple[Need, ...] = ()
    released_by: Role | None = None
    independent: bool = False
    one_checkpoint: bool = False


def said(intent: str, says: str, **slots: object) -> Need:
    """Return a need for a statement."""
    return Need("statement", says, intent, MappingProxyType(slots))


GATES: tuple[Gate, ...] = (
    Gate(
        "identify",
        "the valve's tag is read back",
        needs=(said("tag", "the tag read back", of="valve", value="$tag"),),
        one_checkpoint=True,
    ),
    Gate(
        "isolate",
        "every source is off, locked and tagged, and a start was tried",
        after=("identify",),
        needs=(
            Need("statement", "each source off", "isolation", MappingProxyType({"state": "off"}), "sources"),
            Need(
                "statement",
                "each source locked",
                "isolation",
                MappingProxyType({"item": "lock", "state": "on"}),
                "sources",
            ),
            said("isolation", "a start was tried", item="start_attempt", state="no_start"),
        ),
        one_checkpoint=True,
    ),
    Gate(
        "prove_dead",
        "proved dead, tester proved before and after",
        after=("isolate",),
        needs=(
            said("tester", "the tester proved before", result="live", when="before"),
            Need("value", "every phase pair and earth", "measure", for_each="phase_readings"),
            Need("value", "every foreign circuit", "measure", for_each="foreign_circuits"),
            said("tester", "the tester proved after", result="live", when="after"),
        ),
        released_by="technician",
        one_checkpoint=True,
    ),
    Gate(
        "release",
        "a second person judged blind and released",
        after=("prove_dead",),
        needs=(
            Need("findings", "every judged contact agreed"),
            Need("judgement", "a second person's blind judgement"),
        ),
        released_by="verifier",
        independent=True,
        one_checkpoint=True,
    ),
)


def refuse_weaker(procedure: Procedure) -> None:
    """Refuse a procedure that removes, weakens or reorders a gate of the safety order.

    (1) Every gate of the procedure's extent is there, once. (2) It comes after the gates that it must come after.
    (3) It needs what it must need. (4) It is released by the person who must release it.

    Raises
    ------
    BadDefinition
        The first gate that is wrong, by name.
    """
    places = _places(procedure)
    for gate in gates_of(procedure.extent):
        if gate.name not in places:  # (1)
            raise BadDefinition(f"The safety gate {gate.name} is missing: {gate.says}.", field="steps")
        for before in gate.after:
            if places.get(before, len(procedure.steps)) >= places[gate.name]:  # (2)
                raise BadDefinition(f"The safety gate {gate.name} must come after {before}.", field="steps")
        step = procedure.steps[places[gate.name]]
        for need in gate.needs:
            if not any(_holds(need, condition) for condition in step.needs):  # (3)
                raise BadDefinition(
                    f"The safety gate {gate.name} lacks what it must need: {need.says}.",
                    field=f"steps.{step.id}",
                )
        _refuse_other_release(gate, step)  # (4)


def gates_of(extent: str) -> tuple[Gate, ...]:
    """Return the gates that a procedure of that extent must have."""
    return tuple(gate for gate in GATES if extent == "whole" or gate.one_checkpoint)


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


def _holds(need: Need, condition: Condition) -> bool:
    if need.kind != condition.kind or need.for_each != condition.for_each:
        return False
    if need.same_person and condition.same_person_as is None:
        return False
    if need.intent is None:
        return True
    pattern = condition.pattern
    if pattern is None or pattern.intent != need.intent:
        return False
    if need.kind == "value" and (condition.limits is None or condition.limits.unit is None):
        return False
    wanted = {key: value for key, value in need.slots.items() if key in pattern.slots or key != "item"}
    return fits(type(pattern)(need.intent, wanted), statement_of(pattern.intent, dict(pattern.slots)))


def _refuse_other_release(gate: Gate, step: Step) -> None:
    if gate.released_by is None:
        return
    if step.released_by != gate.released_by or (gate.independent and not step.independent):
        who = f"{'an independent ' if gate.independent else 'a '}{gate.released_by}"
        raise BadDefinition(f"The safety gate {gate.name} is released by {who}.", field=f"steps.{step.id}")
