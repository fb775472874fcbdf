"""Whether a trip repeats well enough: where the next count may lie, against the tolerance.

Counts that were read to whole steps are no surer than a step allows: its uncertainty is 0.29 of the step (half a
step over sqrt 3, JCGM 100:2008, F.2.2.1). The next count lies within t s sqrt(1 + 1/n) of the mean in 95 of 100
cases (prediction interval of a normal sample), s holding the spread of the counts and the step. Few counts make
this wide: then nothing is said for sure.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from service.domain.figures import within, zero_or_more
from service.domain.refusals import BadDefinition
from service.domain.repeatability import Repeat, mean_direction, repeat_of, t_quantile_95

Standing = Literal["repeats", "does_not_repeat", "cannot_tell"]
MOST_COUNT = 1e6
"""Turns, millimetres and degrees beyond any count."""


@dataclass(frozen=True, slots=True)
class TripRepeat:
    """How closely one trip repeats, in the unit of its counts.

    `mean_within` is how far from their mean the true one may lie, `next_within` how far from it the next count
    may lie, both in 95 of 100 cases, the step that was read included; None for one count.
    """

    repeat: Repeat
    mean_within: float | None
    next_within: float | None
    standing: Standing
    sentence: str


def judge_counts(counts: Sequence[float], unit: str, read_to: float, tolerance: float) -> TripRepeat:
    """Return how closely counts of one trip repeat, against how far a trip may lie from its mean.

    Parameters
    ----------
    counts : sequence of float
        Counts of one trip, reached in its trip direction, in `unit`.
    unit : str
        Unit of counts, step and tolerance, for the sentence.
    read_to : float
        The smallest step that was read.
    tolerance : float
        How far a trip may lie from the mean.

    Raises
    ------
    BadDefinition
        There is no count, or a figure is not of its kind.

    """
    for number, count in enumerate(counts):
        within(count, -MOST_COUNT, MOST_COUNT, f"counts[{number}]", "A count")
    zero_or_more(read_to, "read_to", "The smallest step that was read")
    zero_or_more(tolerance, "tolerance", "The tolerance of a trip")
    if tolerance == 0:
        raise BadDefinition("No trip repeats to nothing at all: state a tolerance.", field="tolerance")
    repeat = repeat_of(counts)
    if repeat.spread is None:
        said = "One count says nothing about repeatability; count again."
        return TripRepeat(repeat, None, None, "cannot_tell", said)
    quantile, step = t_quantile_95(repeat.count - 1), read_to / math.sqrt(12.0)
    about = quantile * math.hypot(repeat.spread / math.sqrt(repeat.count), step)
    ahead = quantile * math.hypot(repeat.spread, step) * math.sqrt(1.0 + 1.0 / repeat.count)
    farthest = max(repeat.most - repeat.mean, repeat.mean - repeat.least)
    standing = _standing(farthest, ahead, read_to, tolerance)
    return TripRepeat(repeat, about, ahead, standing, _sentence(repeat, unit, ahead, tolerance, standing))


def around_their_mean(degrees: Sequence[float]) -> list[float]:
    """Return directions on a rim as degrees on either side of their mean, itself within 180: 355 and 5 lie close.

    Raises
    ------
    BadDefinition
        The directions cancel out: there is no mean.

    """
    mean = mean_direction(degrees).mean_deg
    if mean is None:
        raise BadDefinition("These marks lie all around the rim: they have no mean.", field="rim_marks")
    mean = (mean + 180.0) % 360.0 - 180.0
    return [mean + (each - mean + 180.0) % 360.0 - 180.0 for each in degrees]


def _standing(farthest: float, ahead: float, read_to: float, tolerance: float) -> Standing:
    if farthest - read_to / 2.0 > tolerance:
        return "does_not_repeat"
    return "repeats" if ahead <= tolerance else "cannot_tell"


def _sentence(repeat: Repeat, unit: str, ahead: float, tolerance: float, standing: Standing) -> str:
    figures = (
        f"{repeat.count} counts between {repeat.least:g} and {repeat.most:g} {unit} the next may lie {ahead:.2g} "
        f"off their mean, the tolerance is {tolerance:g}"
    )
    words = {
        "repeats": "The trip repeats within its tolerance.",
        "does_not_repeat": "The trip does not repeat within its tolerance: find the reason before the end is set.",
        "cannot_tell": "Within the tolerance so far, but too few counts, or read too coarsely, to tell.",
    }
    return f"{words[standing]} From {figures}."
