"""How closely a trip repeats: mean, spread and interval of counts, and of marks on the handwheel.

Figures along a line (turns, millimetres of the stem) have an ordinary mean; marks on a handwheel rim are
directions: 355, 5 and 15 degrees have the mean 5, not 125. Where directions cancel out there is no mean, and
none is given.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.figures import above_zero, finite
from service.domain.refusals import BadDefinition

_T_95 = (
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131,
    2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042,
)  # fmt: skip
"""Two-sided 95 % quantiles of Student's t for 1 to 30 degrees of freedom, as handbooks print them."""
_NO_DIRECTION = 1e-6
"""Resultant length below which directions cancel out and no mean exists."""


@dataclass(frozen=True, slots=True)
class Repeat:
    """Mean, standard deviation and half-width of the 95 % interval of the mean, in the unit of the counts.

    `spread` and `half_width` are None for a single count: one count says nothing about repeatability.
    """

    count: int
    mean: float
    spread: float | None
    half_width: float | None
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class MeanDirection:
    """Mean of directions in degrees, None where they cancel out; length of the resultant from 0 to 1."""

    mean_deg: float | None
    resultant: float

    @property
    def angular_deviation_deg(self) -> float:
        """Angular deviation in degrees: sqrt(2 (1 - r)) (Zar, Biostatistical Analysis, 26.4)."""
        return math.degrees(math.sqrt(2.0 * (1.0 - self.resultant)))

    @property
    def circular_deviation_deg(self) -> float:
        """Circular standard deviation in degrees: sqrt(-2 ln r); infinite where directions cancel out."""
        if self.resultant <= _NO_DIRECTION:
            return math.inf
        return math.degrees(math.sqrt(-2.0 * math.log(self.resultant)))


def t_quantile_95(freedom: int) -> float:
    """Return the two-sided 95 % quantile of Student's t; beyond 30 degrees that of 30, which is wider."""
    if freedom < 1:
        raise BadDefinition("An interval needs at least two counts.", field="counts")
    return _T_95[min(freedom, len(_T_95)) - 1]


def repeat_of(counts: Sequence[float]) -> Repeat:
    """Return how closely counts of one trip repeat.

    Raises
    ------
    BadDefinition
        There is no count, or one is not a finite number.

    """
    if not counts:
        raise BadDefinition("There is no count to judge.", field="counts")
    for number, count in enumerate(counts):
        finite(count, f"counts[{number}]", "A count")
    mean = math.fsum(counts) / len(counts)
    if len(counts) == 1:
        return Repeat(1, mean, None, None, mean, mean)
    spread = math.sqrt(math.fsum((count - mean) ** 2 for count in counts) / (len(counts) - 1))
    half = t_quantile_95(len(counts) - 1) * spread / math.sqrt(len(counts))
    return Repeat(len(counts), mean, spread, half, min(counts), max(counts))


def mean_direction(degrees: Sequence[float], weights: Sequence[float] | None = None) -> MeanDirection:
    """Return the mean of directions, weights being how often each was read.

    Examples
    --------
    >>> round(mean_direction([355, 5, 15]).mean_deg, 6)
    5.0

    Raises
    ------
    BadDefinition
        There is no direction, one is not finite, or the weights do not fit.

    """
    if not degrees or (weights is not None and len(weights) != len(degrees)):
        raise BadDefinition("Each direction needs one weight, and there is at least one.", field="directions")
    for number, each in enumerate(degrees):
        finite(each, f"directions[{number}]", "A direction")
    weighted = list(zip(degrees, weights or [1.0] * len(degrees), strict=True))
    total = above_zero(math.fsum(weight for _, weight in weighted), "weights", "The sum of the weights")
    x = math.fsum(weight * math.cos(math.radians(each)) for each, weight in weighted) / total
    y = math.fsum(weight * math.sin(math.radians(each)) for each, weight in weighted) / total
    resultant = min(1.0, math.hypot(x, y))
    return MeanDirection(
        None if resultant < _NO_DIRECTION else math.degrees(math.atan2(y, x)) % 360.0, resultant
    )


def mean_axis(degrees: Sequence[float]) -> MeanDirection:
    """Return the mean of axes, period 180 degrees (a slot has no front): doubled, averaged, halved."""
    doubled = mean_direction([2.0 * each for each in degrees])
    return MeanDirection(None if doubled.mean_deg is None else doubled.mean_deg / 2.0, doubled.resultant)


def axis_difference(one: float, other: float) -> float:
    """Return the angle between two axes in degrees, from 0 to 90."""
    apart = abs(finite(one, "axis", "An axis") - finite(other, "axis", "An axis")) % 180.0
    return min(apart, 180.0 - apart)


def from_whole_turns(turns: Sequence[int], degrees: Sequence[float]) -> list[float]:
    """Return trip counts in turns from whole turns and the mark on the rim in degrees from the start."""
    if len(turns) != len(degrees):
        raise BadDefinition("Each count of whole turns needs the mark on the rim.", field="counts")
    return [
        whole + finite(mark, "marks", "A mark") / 360.0 for whole, mark in zip(turns, degrees, strict=True)
    ]
