"""From what was measured to how sure it is: sigma of an angle, and the probability that a bar lies along.

`p_along` answers one question: given this measurement, how often does such a bar truly lie within the
layout's along band? It is the share of a normal distribution about the measured angle, weighed by the chance
that the right edges were measured at all; where they were not, any angle is as likely as any other. Both come
from `calibration.json`, fitted by `python -m vision.calibrate` on rendered photos of invented switches that
no figure of quality is taken from.
"""

import json
from dataclasses import dataclass
from functools import lru_cache
from math import erf, exp, sqrt
from pathlib import Path

import numpy as np
import numpy.typing as npt

from vision.angles import apart
from vision.layout import AngleBand

Floats = npt.NDArray[np.float64]

TABLE = Path(__file__).with_name("calibration.json")


@dataclass(frozen=True)
class Logistic:
    """A logistic model over standardised figures."""

    mean: Floats
    spread: Floats
    weights: Floats
    bias: float

    def probability(self, figures: Floats) -> float:
        """Probability for one row of figures."""
        z = float(((figures - self.mean) / self.spread) @ self.weights) + self.bias
        return 1.0 / (1.0 + exp(-max(-40.0, min(40.0, z))))


@dataclass(frozen=True)
class Calibration:
    """The fitted table: trust in an angle, whether a bar is seen, and the parts of sigma."""

    trust: Logistic
    seen: dict[str, Logistic]
    sigma_floor_deg: float
    sigma_per_disagreement: float
    sigma_per_incoherence: float

    def sigma_deg(self, disagreement_deg: float, incoherence: float) -> float:
        """One sigma of a bar's angle: a floor, the bars' disagreement, and what their edges lack in coherence."""
        parts = (
            self.sigma_floor_deg,
            self.sigma_per_disagreement * disagreement_deg,
            self.sigma_per_incoherence * incoherence,
        )
        return sqrt(sum(part * part for part in parts))


@lru_cache(maxsize=1)
def calibration() -> Calibration:
    """Load the fitted table that is shipped with the reader."""
    table = json.loads(TABLE.read_text())
    return Calibration(
        trust=_logistic(table["trust"]),
        seen={bar: _logistic(table["seen"][bar]) for bar in ("upper", "lower")},
        sigma_floor_deg=float(table["sigma"]["floor_deg"]),
        sigma_per_disagreement=float(table["sigma"]["per_disagreement"]),
        sigma_per_incoherence=float(table["sigma"]["per_incoherence"]),
    )


def _logistic(part: dict[str, list[float]]) -> Logistic:
    mean, spread, weights = (np.array(part[name], np.float64) for name in ("mean", "spread", "weights"))
    return Logistic(mean, spread, weights[:-1], float(weights[-1]))


def _within(off_deg: float, sigma: float, low: float, high: float) -> float:
    """Share of a normal distribution about `off_deg` that lies between two bounds."""
    return 0.5 * (erf((high - off_deg) / (sigma * sqrt(2))) - erf((low - off_deg) / (sigma * sqrt(2))))


def shares(
    angle_deg: float, axis_deg: float, sigma: float, trust: float, band: AngleBand
) -> tuple[float, float, float]:
    """Probabilities of along, across and between for a bar measured at `angle_deg` under a finger axis.

    `trust` is the probability that the right edges were measured; the rest is spread over all angles alike.

    Examples
    --------
    >>> [round(p, 3) for p in shares(2.0, 0.0, 1.0, 1.0, AngleBand())]
    [1.0, 0.0, 0.0]

    """
    off = float(apart(angle_deg, axis_deg))
    along_band, across_band = band.along_within_deg, band.across_from_deg
    along = _within(off, sigma, -along_band, along_band)
    across = _within(off, sigma, across_band, 180.0 - across_band)
    chance_along, chance_across = along_band / 90.0, (90.0 - across_band) / 90.0
    p_along = trust * along + (1 - trust) * chance_along
    p_across = trust * across + (1 - trust) * chance_across
    return p_along, p_across, max(0.0, 1.0 - p_along - p_across)
