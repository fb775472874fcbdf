"""A procedure as data: steps, hold points, what each needs, and what sends the job back.

A step passes when all that it needs is met; a hold point passes only when, besides, the right person released it. What
is met becomes void when something contradicts it or an event of the procedure says so. The order that no site may
break stands in `safety_order`; how a step's needs are spread over the circuits of one valve, in `expansion`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Literal, get_args

from service.domain.chart import Seating
from service.domain.people import Role
from service.domain.refusals import BadDefinition
from service.domain.statements import Pattern
from service.domain.travel import Direction

ConditionKind = Literal[
    "statement",  # something is said or typed, and its read-back confirmed
    "value",  # the same with a number inside limits, in the unit that is asked for
    "photo",  # a photo with the framing that is asked for is stored
    "findings",  # every judged contact of the checkpoint is agreed
    "record",  # every contact of the checkpoint is said and photographed, whatever the chart wants
    "judgement",  # a second person judged blind and agrees
    "equal",  # values of other conditions are equal
    "stroke",  # the marks of the step's stroke are whole, and their judgement finds nothing that differs
]
CONDITION_KINDS: tuple[ConditionKind, ...] = get_args(ConditionKind)
Status = Literal["unmet", "met", "void"]
STATUSES: tuple[Status, ...] = get_args(Status)
CheckpointState = Literal["at_rest", "just_tripped", "still_tripped", "reset", "by_chart"]
ForEach = Literal[
    "phase_readings",
    "foreign_circuits",
    "sources",
    "stop_contacts",
    "auxiliary_rotors",
    "end_rotors",
    "closed_end_rotors",
    "open_end_rotors",
]
FOR_EACH: tuple[ForEach, ...] = get_args(ForEach)
HAPPENINGS = ("break_taken", "handed_over", "definition_changed", "isolated_step_reopened")
END = "end"
LIMIT_SEATS: Mapping[Direction, Seating] = MappingProxyType({"closed": "limit", "open": "limit"})
NO_SLOTS: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True)
class Limits:
    """What a value must be: its unit, and the least and the greatest number that meets the condition.

    `site_rule` names the rule of the site that replaces `maximum`. `expires` says that the statement carries until
    when it holds (slot `until`, RFC 3339 or a date) and that it is void afterwards; `holds_min` lets it lapse that many
    minutes after it was received. `slot` holds the number.
    """

    slot: str = "value"
    unit: str | None = None
    minimum: float | None = None
    maximum: float | None = None
    site_rule: str | None = None
    expires: bool = False
    holds_min: float | None = None


@dataclass(frozen=True)
class Condition:
    """One thing that a step needs.

    Parameters
    ----------
    id : str
        Unique in its step.
    kind : ConditionKind
    says : str
        What is needed, in words.
    pattern : Pattern, optional
        The statement that meets it (kinds statement and value).
    limits : Limits, optional
        Kind value.
    of : str, optional
        Framing of the photo (kind photo).
    equals : tuple of str
        Full names "step/condition" that must be equal (kind equal).
    same_person_as : str, optional
        Full name of a condition: the same person must meet both (each lock is removed by its owner).
    by_role : Role, optional
        The role that must say it; a technician of the job where None.
    stands_until : str, optional
        Step up to which a contradiction of it still acts after its own step has passed, or "end"; only in its own
        step where None.
    only_while : tuple of Pattern
        Statements that must stand when it is met (the wiggle check counts only while the setting gear is engaged).
    for_each : ForEach, optional
        What of the valve the condition is repeated for.
    checkpoint : str, optional
        The checkpoint whose findings or judgement it asks for (its own step where None).
    tolerance : float
        How far apart the values of kind equal may be.
    only_if : "flameproof", optional
        The condition falls away for a valve that is not so.

    """

    id: str
    kind: ConditionKind
    says: str
    pattern: Pattern | None = None
    limits: Limits | None = None
    of: str | None = None
    equals: tuple[str, ...] = ()
    same_person_as: str | None = None
    by_role: Role | None = None
    stands_until: str | None = None
    only_while: tuple[Pattern, ...] = ()
    for_each: ForEach | None = None
    checkpoint: str | None = None
    tolerance: float = 0.0
    only_if: Literal["flameproof"] | None = None


@dataclass(frozen=True)
class Checkpoint:
    """Where contacts are judged: the travel in words and percent, the direction it was reached in, the rotor states.

    `rotors` maps closed_end, open_end, auxiliary or the identifier of a rotor to the state that the checkpoint proves.
    """

    travel: str
    travel_pct: float
    direction: Literal["open", "closed"] | None
    rotors: Mapping[str, CheckpointState]


@dataclass(frozen=True)
class Step:
    """One thing to do or confirm. `say` is spoken in at most twelve words, `why` is one reason.

    `rests_on` names the earlier steps without which this one means nothing: when one of them becomes void, so does
    this. `lane` names steps of one group that may be done before or after those of its other lanes. `stage` is the part
    of the job that the step belongs to, by which phrases are chosen.
    """

    id: str
    title: str
    say: str
    why: str
    needs: tuple[Condition, ...]
    gives_back: str
    practice: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    gate: str | None = None
    hold_point: bool = False
    released_by: Role | None = None
    independent: bool = False
    rests_on: tuple[str, ...] = ()
    checkpoint: Checkpoint | None = None
    lane: str | None = None
    under_power: bool = False
    stage: str = ""
    isolated: bool = False

    def condition(self, identifier: str) -> Condition | None:
        """Return the condition of that identifier, or None."""
        return next((need for need in self.needs if need.id == identifier), None)


def stroke_need(step: Step) -> Condition | None:
    """Return the condition by which a step has its stroke judged, or None."""
    return next((need for need in step.needs if need.kind == "stroke"), None)


def stop_need(step: Step) -> Condition | None:
    """Return the condition that asks what stopped the stroke of a step, or None."""
    return next((need for need in step.needs if need.pattern and need.pattern.intent == "trip"), None)


def stroke_direction(step: Step) -> Direction | None:
    """Return which way the stroke of a step goes, by the stop that it asks for; None where it asks for none."""
    need = stop_need(step)
    towards = need.pattern.slots.get("travel") if need and need.pattern else None
    return "closed" if towards == "closing" else "open" if towards == "opening" else None


@dataclass(frozen=True)
class Event:
    """Something said or done that makes steps void and so sends the job back to the first of them.

    It happens when a statement fits one of `when` (on arrival, without read-back), or an entry of the kind `happening`
    comes; only while all of `while_said` may stand, only after the step `after` has passed, and only until the step
    `until` has passed, where these are given. `isolated_step_reopened` happens when a step that is done under isolation
    opens again.
    """

    id: str
    says: str
    voids: tuple[str, ...]
    when: tuple[Pattern, ...] = ()
    happening: str | None = None
    while_said: tuple[Pattern, ...] = ()
    after: str | None = None
    until: str | None = None


@dataclass(frozen=True)
class Procedure:
    """Steps in their order, and the events that send the job back.

    `seats` says for each end what stops the drive of the valves that it is for.

    Raises
    ------
    BadDefinition
        A name is used twice or names nothing; a hold point has nobody to release it; a step needs nothing.

    """

    id: str
    title: str
    version: str
    extent: Literal["whole", "one_checkpoint"]
    steps: tuple[Step, ...]
    events: tuple[Event, ...] = ()
    closing: str = ""
    seats: Mapping[Direction, Seating] = field(default_factory=lambda: LIMIT_SEATS)
    places: Mapping[str, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "places", {step.id: place for place, step in enumerate(self.steps)})
        if len(self.places) != len(self.steps) or not self.steps:
            raise BadDefinition("A step is named twice, or there is no step.", field="steps")
        for number, step in enumerate(self.steps):
            self._check_step(step, f"steps[{number}]")
        for number, event in enumerate(self.events):
            self._check_event(event, f"events[{number}]")

    def step(self, identifier: str) -> Step:
        """Return the step of that identifier; raises BadDefinition where there is none."""
        place = self.places.get(identifier)
        if place is None:
            raise BadDefinition(f"The procedure has no step {identifier}.", field="step")
        return self.steps[place]

    def conditions(self) -> Iterator[tuple[Step, Condition]]:
        """Yield every condition with its step, in order."""
        for step in self.steps:
            for need in step.needs:
                yield step, need

    def resting_on(self, identifier: str) -> tuple[str, ...]:
        """Return the steps that rest on a step, directly or through others, in order."""
        found = {identifier}
        for step in self.steps:
            if found & set(step.rests_on):
                found.add(step.id)
        return tuple(step.id for step in self.steps if step.id in found and step.id != identifier)

    def _check_step(self, step: Step, where: str) -> None:
        if not step.needs:
            raise BadDefinition(
                f"Step {step.id} needs nothing, so it would pass by itself.", field=f"{where}.needs"
            )
        if len(step.say.split()) > 12:
            raise BadDefinition(f"Step {step.id} speaks more than twelve words.", field=f"{where}.say")
        if step.hold_point != (step.released_by is not None):
            raise BadDefinition(
                f"Step {step.id}: a hold point names who releases it, and only a hold point does.",
                field=f"{where}.released_by",
            )
        if len({need.id for need in step.needs}) != len(step.needs):
            raise BadDefinition(f"A condition of step {step.id} is named twice.", field=f"{where}.needs")
        for before in step.rests_on:
            if self.places.get(before, len(self.steps)) >= self.places[step.id]:
                raise BadDefinition(
                    f"Step {step.id} rests on {before}, which does not come before it.",
                    field=f"{where}.rests_on",
                )
        for place, need in enumerate(step.needs):
            self._check_need(step, need, f"{where}.needs[{place}]")

    def _check_need(self, step: Step, need: Condition, where: str) -> None:
        if need.kind in ("statement", "value") and need.pattern is None:
            raise BadDefinition(f"Condition {step.id}/{need.id} names no statement.", field=where)
        judged = self.places.get(need.checkpoint or step.id)
        if need.kind in ("findings", "record", "judgement") and (
            judged is None or judged > self.places[step.id] or self.steps[judged].checkpoint is None
        ):
            raise BadDefinition(
                f"Condition {step.id}/{need.id} judges, but the step is no checkpoint.", field=where
            )
        if need.kind == "equal" and len(need.equals) < 2:
            raise BadDefinition(f"Condition {step.id}/{need.id} compares fewer than two values.", field=where)
        for name in (*need.equals, *filter(None, (need.same_person_as,))):
            if not self._has(name):
                raise BadDefinition(
                    f"Condition {step.id}/{need.id} names {name}, which there is not.", field=where
                )
        if need.stands_until not in (None, END) and need.stands_until not in self.places:
            raise BadDefinition(f"Condition {step.id}/{need.id} stands until no step.", field=where)

    def _has(self, name: str) -> bool:
        step, _, identifier = name.partition("/")
        if step not in self.places:
            return False
        return any(
            need.id == identifier or (need.for_each is not None and identifier.startswith(f"{need.id}_"))
            for need in self.step(step).needs
        )

    def _check_event(self, event: Event, where: str) -> None:
        for name in (*event.voids, *filter(None, (event.after, event.until))):
            if name not in self.places:
                raise BadDefinition(f"Event {event.id} names {name}, which is no step.", field=where)
        if not event.voids or (not event.when and event.happening not in HAPPENINGS):
            raise BadDefinition(
                f"Event {event.id} says neither when it happens nor what it voids.", field=where
            )
