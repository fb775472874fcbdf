"""From what was measured to how sure it is: sigma of an angle, and the probability that a bar lies along.

`p_along` answers one question: given this measurement, how often does such a bar truly lie within the
layout's along band? It is the share of a normal distribution about the measured angle, weighed by the
chance that the right edges were measured at all; where they were not, any angle is as likely as any other.
"""

from math import erf, sqrt

from vision.angles import apart
from vision.layout import AngleBand

# Sigma of a called bar's angle, degrees, by how the switch was found; then what each degree of disagreement
# between the two bars adds in squares. Fitted on rendered photos.
SIGMA_DEG = {"tags": 0.85, "tags and structure": 0.95, "structure": 1.1}
DISAGREEMENT_SHARE = 0.35


def sigma_deg(method: str, disagreement_deg: float) -> float:
    """One sigma of a bar's angle."""
    return sqrt(SIGMA_DEG.get(method, 1.1) ** 2 + (DISAGREEMENT_SHARE * disagreement_deg) ** 2)


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
