"""What a job rests on from its opening: valve, chart, procedure spread over that valve, people and site rules."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Literal

from service.domain.actuator import Actuator
from service.domain.chart import ContactChart
from service.domain.circuits import Circuits
from service.domain.expected import Expected
from service.domain.people import Person
from service.domain.procedure import Condition, Procedure, Step
from service.domain.rehearsal import Rehearsal

PhaseName = Literal["line_one", "line_two", "line_three", "neutral", "earth"]


@dataclass(frozen=True, slots=True)
class SiteRules:
    """Rules of a site. Limits are in the unit that the procedure's condition names.

    `pause_limit_s` is the time in seconds without any item of the job after which a dead proof is void as after a
    break; None leaves that to the spoken break.
    """

    limits: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({"dead_limit_v": 1.0}))
    concurrent_allowed: bool = True
    pause_limit_s: float | None = None


@dataclass(frozen=True, slots=True)
class Valve:
    """The valve and what feeds its actuator.

    `sources` are the supplies to be locked and tagged, each by its spoken name; `other_circuits` are circuits in the
    compartment that the chart does not name.
    """

    tag: str
    phases: int = 3
    neutral: bool = False
    sources: tuple[str, ...] = ("motor_supply", "control_supply")
    other_circuits: tuple[str, ...] = ()
    flameproof: bool = False
    description: str = ""


@dataclass(frozen=True)
class PinnedJob:
    """One job as pinned at its opening; the procedure is already spread over the valve's circuits.

    `pins` maps chart, layout, procedure, phrases, models, site rules to their SHA-256; `expected` gives for each
    checkpoint what every contact must be, by label. `circuits` and `actuator` are None where the job rests on none;
    then no stroke can be expected, and it is judged by what was marked and said alone.
    """

    job: str
    site: str
    valve: Valve
    chart: ContactChart
    procedure: Procedure
    people: Mapping[str, Person]
    rules: SiteRules
    pins: Mapping[str, str]
    expected: Mapping[str, Mapping[str, Expected]]
    circuits: Circuits | None = None
    actuator: Actuator | None = None
    by_intent: Mapping[str, tuple[tuple[Step, Condition], ...]] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )
    derived: tuple[tuple[Step, Condition], ...] = field(init=False, repr=False, compare=False, default=())

    def __post_init__(self) -> None:
        found: dict[str, list[tuple[Step, Condition]]] = {}
        for step, need in self.procedure.conditions():
            if need.pattern is not None:
                found.setdefault(need.pattern.intent, []).append((step, need))
        follows = ("findings", "record", "judgement", "equal", "stroke")
        derived = tuple(pair for pair in self.procedure.conditions() if pair[1].kind in follows)
        object.__setattr__(self, "derived", derived)
        object.__setattr__(self, "by_intent", {key: tuple(pairs) for key, pairs in found.items()})

    @cached_property
    def rehearsed(self) -> dict[object, Rehearsal | None]:
        """What was rehearsed before, kept to save time: one stroke is asked for again and again."""
        return {}

    def person(self, identifier: str | None) -> Person | None:
        """Return the person named in the job, or None."""
        return self.people.get(identifier) if identifier else None

    def judged(self, step: str) -> tuple[str, ...]:
        """Return the labels of the contacts that a checkpoint judges: those it does not leave open."""
        return tuple(label for label, state in self.expected.get(step, {}).items() if state != "either")
