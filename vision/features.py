"""The figures that decide how far a measured bar is believed, in one order for table, reader and fit."""

import numpy as np
import numpy.typing as npt

from vision.angles import apart
from vision.bars import RotorMeasure

Floats = npt.NDArray[np.float64]

TRUST_FIGURES = (
    "log joint ratio",
    "coherence",
    "coherence of the other bar",
    "log strength",
    "share of own best",
    "share of the other's own best",
    "own peak off",
    "own peaks off square",
    "bars alone off square",
    "coherence of the worse end",
    "log strength of the fainter end",
    "circle score",
    "is the upper bar",
)
SEEN_FIGURES = (
    "coherence",
    "log strength",
    "coherence of the worse end",
    "log strength of the fainter end",
    "share of own best",
    "log own ratio",
    "own peak off",
    "log joint ratio",
)
# Strength counts up to this logarithm: beyond it an edge is strong, whatever its contrast.
_STRONG, _STRONG_END = 3.3, 3.0


def disagreement_deg(measure: RotorMeasure) -> float:
    """How far the two bars, each fitted alone near the common angle, are from square."""
    return float(apart(measure.upper.alone_deg + 90.0, measure.lower.alone_deg))


def incoherence(measure: RotorMeasure) -> float:
    """What the edges of both bars lack, in the mean, to full coherence at the common angle, 0 to 1."""
    return 1.0 - (measure.upper.coherence + measure.lower.coherence) / 2


def off_square_deg(measure: RotorMeasure) -> float:
    """How far the two bars' own best angles are from square."""
    return float(apart(measure.upper.own_angle_deg + 90.0, measure.lower.own_angle_deg))


def trust_figures(measure: RotorMeasure, bar: str, circle_score: float) -> Floats:
    """Figures on whether the angle is right, in the order of `TRUST_FIGURES`."""
    one, other = measure.bars if bar == "upper" else measure.bars[::-1]
    own = float(apart(one.own_angle_deg, one.angle_deg))
    return np.array(
        [
            np.log(max(measure.joint_ratio, 1.0)),
            one.coherence,
            other.coherence,
            min(np.log(one.strength + 0.5), _STRONG),
            one.share,
            other.share,
            min(own, 30.0) / 30.0,
            min(off_square_deg(measure), 30.0) / 30.0,
            min(disagreement_deg(measure), 12.0) / 12.0,
            one.weakest_end,
            min(np.log(one.faintest_end + 0.5), _STRONG_END),
            circle_score,
            1.0 if bar == "upper" else 0.0,
        ],
    )


def seen_figures(measure: RotorMeasure, bar: str) -> Floats:
    """Figures on whether the bar itself can be seen, in the order of `SEEN_FIGURES`."""
    one = measure.upper if bar == "upper" else measure.lower
    own = float(apart(one.own_angle_deg, one.angle_deg))
    return np.array(
        [
            one.coherence,
            min(np.log(one.strength + 0.5), _STRONG),
            one.weakest_end,
            min(np.log(one.faintest_end + 0.5), _STRONG_END),
            one.share,
            np.log(max(one.own_ratio, 1e-3)),
            min(own, 30.0) / 30.0,
            np.log(max(measure.joint_ratio, 1.0)),
        ],
    )
