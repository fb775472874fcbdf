"""What the trade's computations need from outside: definition documents turned into plain values."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol

from service.domain.back_off import MarginAdvice
from service.domain.chart import ContactChart
from service.domain.circuits import Circuits
from service.domain.drift import TripRecord
from service.domain.motor import Duty
from service.domain.rehearsal import Stroke
from service.domain.second_look import Look
from service.domain.setting_advice import Situation
from service.domain.stroke import Compared, Mark
from service.domain.travel import Direction
from service.domain.travel_scale import TravelScale

Beside = Callable[[str, str], bytes]
"""Returns the bytes of a file that a document names; the second word is the field that names it."""


@dataclass(frozen=True)
class Wiring:
    """A chart's circuits, loaded as found.

    `indication_within_pct` is the site's rule for early lamps at an end that is seated by torque, `as_found`
    the chart with the trip points that the document states as found; both None where it states none.
    """

    circuits: Circuits
    indication_within_pct: float | None = None
    as_found: ContactChart | None = None


@dataclass(frozen=True)
class CountedTrip:
    """Counts of one trip in one unit; `pct_a_unit` is what one unit is of the travel, None where not stated.

    `counts_field` names the field of the document that holds them.
    """

    rotor: str
    towards: Direction
    unit: str
    counts: tuple[float, ...]
    counts_field: str
    read_to: float
    tolerance: float
    pct_a_unit: float | None = None


@dataclass(frozen=True)
class CountedTrips:
    """The counted trips of one valve."""

    valve: str
    trips: tuple[CountedTrip, ...]


@dataclass(frozen=True)
class DriftingTrip:
    """The trip points of one rotor at several jobs; days are ordinals, `last` is the day of the last job."""

    rotor: str
    set_at_pct: float
    tolerance_pct: float
    jobs: tuple[TripRecord, ...]
    last: date


@dataclass(frozen=True)
class DriftingTrips:
    """The trip points of one valve over its jobs."""

    valve: str
    trips: tuple[DriftingTrip, ...]


class ValveStated(Protocol):
    """What a valve document states; each part raises BadDefinition where it is missing or contradictory."""

    valve: str

    @property
    def has_scale(self) -> bool: ...  # noqa: D102 - the names say it
    @property
    def scale(self) -> TravelScale: ...  # noqa: D102
    @property
    def situation(self) -> Situation: ...  # noqa: D102
    @property
    def marks(self) -> tuple[Mark, ...]: ...  # noqa: D102
    @property
    def compared(self) -> Compared: ...  # noqa: D102
    @property
    def stroke_towards(self) -> Direction: ...  # noqa: D102
    @property
    def duty(self) -> Duty: ...  # noqa: D102
    @property
    def earlier_runs(self) -> list[tuple[float, float]]: ...  # noqa: D102
    @property
    def questions(self) -> list[str]: ...  # noqa: D102
    def part_turn_faults(self, towards: Direction, coast_pct: float | None) -> list[str]: ...  # noqa: D102
    def margin(self, coast_pct: float) -> MarginAdvice: ...  # noqa: D102
    def stroke(self, circuits: Circuits, towards: Direction | None = None) -> Stroke: ...  # noqa: D102


class TradeDocuments(Protocol):
    """Reads documents of the published schemas; each method raises BadDefinition with the field at fault."""

    largest: int
    """The greatest size of a document, in bytes."""

    def wiring(self, text: bytes) -> Wiring:
        """Return what a chart document describes, loaded as found."""
        ...

    def valve(self, text: bytes) -> tuple[ValveStated, Wiring]:
        """Return a valve and what its chart describes."""
        ...

    def repeats(self, text: bytes) -> CountedTrips:
        """Return the counted trips that a document states."""
        ...

    def drift(self, text: bytes) -> DriftingTrips:
        """Return the trip points of several jobs that a document states."""
        ...

    def looks(self, text: bytes) -> tuple[Look, ...]:
        """Return the paired looks that a document states."""
        ...

    def schema(self, name: str) -> dict[str, Any]:
        """Return a published schema; raises NotFound naming those there are."""
        ...
