"""Axial angles: a bar has no head and no tail, so its angle counts modulo 180 degrees.

The mean of axial angles doubles them first (K. V. Mardia and P. E. Jupp, Directional Statistics, 2000,
section 1.3); where the doubled directions cancel, no mean exists, and none is returned.
"""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def wrapped(angle_deg: float) -> float:
    """Bring an angle into [0, 180)."""
    turned = float(angle_deg) % 180.0
    return 0.0 if turned >= 180.0 else turned  # a tiny negative angle rounds up to 180 itself


def apart(one_deg: Floats | float, other_deg: Floats | float) -> Floats:
    """Distance of axial angles, 0 to 90.

    Examples
    --------
    >>> float(apart(179.0, 1.0))
    2.0

    """
    return np.asarray(np.abs((np.asarray(one_deg, np.float64) - other_deg + 90.0) % 180.0 - 90.0))


def signed(one_deg: float, other_deg: float) -> float:
    """Turn from the other axis to the one, -90 to 90."""
    return float((one_deg - other_deg + 90.0) % 180.0 - 90.0)


def mean(angles_deg: Floats) -> float | None:
    """Axial mean in [0, 180); None where it does not exist (resultant under 1e-9).

    Examples
    --------
    >>> round(mean(np.array([179.0, 1.0, 3.0])), 6)
    1.0
    >>> mean(np.array([0.0, 90.0])) is None
    True

    """
    doubled = np.exp(2j * np.radians(angles_deg)).mean()
    if abs(doubled) < 1e-9:
        return None
    return wrapped(float(np.degrees(np.angle(doubled)) / 2))
