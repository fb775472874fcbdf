"""Travel of the valve: 0 is the closed end, 100 the open end, in percent, with its doubt and its evidence."""

import math
from dataclasses import dataclass
from typing import Literal

from service.domain.refusals import BadDefinition

Direction = Literal["open", "closed"]
Evidence = Literal["counted", "seen", "stated"]


@dataclass(frozen=True, slots=True)
class Travel:
    """A travel in percent with the half-width of its uncertainty, and where it comes from.

    Raises
    ------
    BadDefinition
        The travel is not a number within 0 to 100 %, or its uncertainty is negative or not a number.

    """

    pct: float
    plus_minus_pct: float = 0.0
    evidence: Evidence = "stated"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.pct) and 0 <= self.pct <= 100):
            raise BadDefinition(f"Travel is {self.pct:g} %, outside 0 to 100 %.", field="travel")
        if not (math.isfinite(self.plus_minus_pct) and self.plus_minus_pct >= 0):
            raise BadDefinition(
                f"The uncertainty of a travel is {self.plus_minus_pct:g} %; it is zero or more.",
                field="travel.plus_minus_pct",
            )

    @property
    def lowest(self) -> float:
        """The least travel that fits, in percent."""
        return max(0.0, self.pct - self.plus_minus_pct)

    @property
    def highest(self) -> float:
        """The greatest travel that fits, in percent."""
        return min(100.0, self.pct + self.plus_minus_pct)


def opposite(direction: Direction) -> Direction:
    """Return the other direction of movement."""
    return "closed" if direction == "open" else "open"
