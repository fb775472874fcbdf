"""Which way up a switch is seen, as a person tells it: a tap on the switch's upper edge in the photo.

A tap is somebody's word, not a measurement. It chooses between ways to lay the plan that the photo itself leaves open,
and never goes against what tags or way-up marks tell.
"""

from typing import Literal

import numpy as np
import numpy.typing as npt

from vision.camera import Camera
from vision.layout import Layout
from vision.lookalikes import Move

Floats = npt.NDArray[np.float64]
Tap = tuple[float, float]
"""Shares of width and height of the upright photo, from its upper left corner."""

# A tap counts for an edge only in the outer third of the plan on that side, and this far beyond the plan at most: a
# thumb is broad, and one in the middle says nothing.
_OUTER = 1 / 3
_BEYOND = 0.6


def upper_edge_words(layout: Layout) -> str:
    """Name the upper edge by the rotors along it; where all stand in one row, by their order."""
    heights = [rotor.centre_mm[1] for rotor in layout.rotors]
    one_row = max(heights) - min(heights) < layout.plan_size_mm[1] / 3
    least = (max(heights) + min(heights)) / 2
    along = [rotor for rotor in layout.rotors if one_row or rotor.centre_mm[1] > least]
    names = [rotor.id for rotor in sorted(along, key=lambda rotor: rotor.centre_mm[0])]
    listed = f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]
    if one_row and len(names) > 1:
        return f"the one that is up when {listed} stand from left to right"
    return f"the one along {listed}"


def tapped_mm(camera: Camera, pixel: Floats) -> Floats | None:
    """Plan point (2,) at z = 0 that is seen at a pixel; None where the line of sight misses the plane."""
    bent = (pixel - camera.centre) / camera.f_px
    straight = bent
    for _ in range(5):  # the radial term has no inverse in closed form; this settles to far below a pixel
        straight = bent / (1 + camera.k1 * float(straight @ straight))
    direction = camera.rotation.T @ np.append(straight, 1.0)
    stand = -camera.rotation.T @ camera.tvec
    if abs(direction[2]) < 1e-9 or stand[2] / direction[2] > 0:
        return None
    return np.asarray((stand - stand[2] / direction[2] * direction)[:2], np.float64)


def edge_at(
    layout: Layout, point: Floats | None, move: Move | None = None
) -> Literal["upper", "lower", "none"]:
    """Which edge a tapped plan point lies at, when the plan lies as found or as a move would lay it."""
    if point is None:
        return "none"
    if move is not None:
        matrix = move.matrix
        point = np.asarray(np.linalg.solve(matrix[:2, :2], point - matrix[:2, 3]), np.float64)
    width, height = layout.plan_size_mm
    across, up = point[0] / width, point[1] / height
    if not (-_BEYOND < across < 1 + _BEYOND and -_BEYOND < up < 1 + _BEYOND):
        return "none"
    if up > 1 - _OUTER:
        return "upper"
    return "lower" if up < _OUTER else "none"
