"""The outlines measured on a rotor: both circles, and the long edges of both bars at every angle."""

from itertools import pairwise

import numpy as np
import numpy.typing as npt

from vision.edges import Outlines
from vision.layout import RotorPlan

Floats = npt.NDArray[np.float64]

STEP_MM = 0.34  # two pixels of a patch: closer samples tell the same
ANGLES_DEG = np.arange(180.0)


def circle(radius_mm: float, pieces: int = 24) -> Outlines:
    """One circle about the patch's middle, in arcs."""
    samples = max(3, int(np.ceil(2 * np.pi * radius_mm / pieces / STEP_MM)))
    angle = (np.arange(pieces * samples) + 0.5) * (2 * np.pi / (pieces * samples))
    normal = np.column_stack([np.cos(angle), np.sin(angle)]).reshape(1, pieces, samples, 2)
    return Outlines(normal * radius_mm, normal)


def long_edges(
    width_mm: float, spans: list[tuple[float, float]], angles_deg: Floats, samples: int = 9
) -> Outlines:
    """Both long edges of a bar at each angle; `spans` are the pieces along one half, mm from the middle.

    Pieces run: first side plus end, second side plus end, then the same at the minus end.
    """
    points, normals = [], []
    for end in (1.0, -1.0):
        for side in (1.0, -1.0):
            for low, high in spans:
                s = low + (np.arange(samples) + 0.5) / samples * (high - low)
                points.append(np.column_stack([end * s, np.full(samples, side * width_mm / 2)]))
                normals.append(np.tile([0.0, side], (samples, 1)))
    flat, up = np.array(points), np.array(normals)
    turn = np.radians(angles_deg)
    rotation = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])  # row vectors: p @ R
    return Outlines(np.einsum("psi,ija->apsj", flat, rotation), np.einsum("psi,ija->apsj", up, rotation))


def upper_edges(rotor: RotorPlan, angles_deg: Floats = ANGLES_DEG) -> Outlines:
    """Long edges of the upper bar: three pieces a half, without the screw in the middle."""
    reach = rotor.upper.length_mm / 2 - 0.3
    cuts = np.linspace(0.2 * rotor.upper.length_mm / 2, reach, 4)
    return long_edges(rotor.upper.width_mm, list(pairwise(cuts.tolist())), angles_deg)


def lower_edges(rotor: RotorPlan, angles_deg: Floats = ANGLES_DEG) -> Outlines:
    """Long edges of the lower bar: two pieces a half, from the disc to the drum's rim."""
    low = np.sqrt(max(rotor.upper_disc_radius_mm**2 - (rotor.lower.width_mm / 2) ** 2, 0.0)) + 0.3
    high = (
        min(rotor.lower.length_mm / 2, np.sqrt(rotor.drum_radius_mm**2 - (rotor.lower.width_mm / 2) ** 2))
        - 0.1
    )
    middle = (low + high) / 2
    return long_edges(rotor.lower.width_mm, [(low, middle), (middle, high)], angles_deg)
