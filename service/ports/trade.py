"""What the trade's computations need from outside: definition documents turned into plain values."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from service.domain.back_off import MarginAdvice
from service.domain.chart import ContactChart
from service.domain.circuits import Circuits
from service.domain.motor import Duty
from service.domain.rehearsal import Stroke
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

    def schema(self, name: str) -> dict[str, Any]:
        """Return a published schema; raises NotFound naming those there are."""
        ...
