"""Puts each rotor onto its circles: the rims of the upper disc and of the drum, each at its own height.

Neither circle knows the bars' angle, so a rotor placed by them is placed without prejudice.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from vision.camera import Camera
from vision.edges import Outlines, support
from vision.layout import RotorPlan
from vision.outlines import circle
from vision.patch import Patch, cut

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

_circle = lru_cache(maxsize=64)(circle)


def drum_face_mm(rotor: RotorPlan) -> float:
    """Height of the drum's face: the lower bar stands out of it as far as the upper bar out of its disc."""
    return rotor.lower.z_mm - rotor.upper.z_mm


@dataclass(frozen=True)
class Circles:
    """Where the circles of one rotor were found.

    Attributes
    ----------
    shift_mm : (2,) array
        Found centre less the centre that the camera predicts, plan frame.
    score : float
        Mean coherence of both circles there, 0 to 2.
    contrast : float
        `score` over the median score of all shifts tried; about 1 where no circle stands out.
    inside : float
        Share of both circles that lies in the picture.

    """

    shift_mm: Floats
    score: float
    contrast: float
    inside: float


@dataclass(frozen=True)
class RotorView:
    """Patches of one rotor at the heights of disc and drum."""

    rotor: RotorPlan
    disc: Patch
    drum: Patch

    def rims(self) -> tuple[tuple[Patch, float, float], ...]:
        """Both circles as (patch, radius in mm, height in mm)."""
        return (
            (self.disc, self.rotor.upper_disc_radius_mm, 0.0),
            (self.drum, self.rotor.drum_radius_mm, drum_face_mm(self.rotor)),
        )


def view(pixels: Pixels, camera: Camera, rotor: RotorPlan, margin_mm: float) -> RotorView:
    """Cut both patches with room for shifts of `margin_mm`."""
    centre, radius = np.array(rotor.centre_mm), rotor.drum_radius_mm + margin_mm + 1.0
    return RotorView(
        rotor,
        cut(pixels, camera, centre, 0.0, radius),
        cut(pixels, camera, centre, drum_face_mm(rotor), radius),
    )


def _grid(count: int, step: float) -> Floats:
    axis = np.arange(-count, count + 1) * step
    return np.stack(np.meshgrid(axis, axis), axis=-1).reshape(-1, 2)


def _scores(seen: RotorView, shifts: Floats) -> tuple[Floats, Floats]:
    total: Floats = np.zeros(len(shifts))
    inside: Floats = np.zeros(len(shifts))
    for patch, radius, _ in seen.rims():
        rim = _circle(radius)
        points = rim.points + shifts[:, None, None, :]
        found = support(patch, Outlines(points, np.broadcast_to(rim.normals, points.shape)))
        total = total + (found.coherence * found.seen).mean(axis=1)
        inside = inside + found.seen.mean(axis=1) / 2
    return total, inside


def find(seen: RotorView, reach_mm: float, far_cost: float = 0.0) -> Circles:
    """Search both circles over shifts up to `reach_mm`, coarse then fine, to a fraction of a step.

    A shift costs `far_cost` of coherence a square millimetre: of two like circles the nearer is meant.
    """
    step = 3 / seen.disc.px_per_mm  # 0.5 mm, about the width of a blurred edge
    grid = _grid(int(np.ceil(reach_mm / step)), step)
    wide, _ = _scores(seen, grid)
    fine = grid[int((wide - far_cost * (grid**2).sum(axis=1)).argmax())] + _grid(3, step / 3)
    total, inside = _scores(seen, fine)
    worth = total - far_cost * (fine**2).sum(axis=1)
    k = int(worth.argmax())
    weight = np.maximum(worth - 0.9 * worth[k], 1e-9) ** 2
    centre = (fine * weight[:, None]).sum(axis=0) / weight.sum()
    return Circles(
        centre, float(total[k]), float(total[k] / max(float(np.median(wide)), 1e-6)), float(inside[k])
    )


@dataclass(frozen=True)
class Arcs:
    """Measured pieces of a rotor's circles, as points for the camera's fit.

    `plan` (n, 3): the point of the layout's circle; `pixels` (n, 2): a point of the seen edge; `normals`
    (n, 2): the edge's normal in the photo, along which alone the two must meet.
    """

    plan: Floats
    pixels: Floats
    normals: Floats


NO_ARCS = Arcs(np.zeros((0, 3)), np.zeros((0, 2)), np.zeros((0, 2)))


def arcs(seen: RotorView, camera: Camera, shift_mm: Floats, reach_mm: float = 0.9) -> Arcs:
    """Measure both circles piece by piece around the found centre."""
    offsets = np.arange(-reach_mm, reach_mm + 1e-9, 0.15)
    plan, pixels, normals = [], [], []
    centre = np.array(seen.rotor.centre_mm)
    for patch, radius, z in seen.rims():
        rim = _circle(radius)
        points = rim.points + offsets[:, None, None, None] * rim.normals + shift_mm
        found = support(patch, Outlines(points, np.broadcast_to(rim.normals, points.shape)))
        figure = found.coherence * np.sqrt(found.strength)
        best = figure.argmax(axis=0)
        each = np.arange(figure.shape[1])
        # An arc counts where its edge is straight and strong, in the picture, and not at the end of the
        # search.
        good = (
            (found.coherence[best, each] > 0.8)
            & (found.strength[best, each] > 4)
            & (found.seen[best, each] > 0.9)
        )
        good &= (best > 0) & (best < len(offsets) - 1)
        normal = rim.normals[0, :, rim.normals.shape[2] // 2][good]
        flat = np.column_stack([centre + normal * radius, np.full(len(normal), z)])
        edge = flat.copy()
        edge[:, :2] += normal * offsets[best[good]][:, None] + shift_mm
        ahead = edge.copy()
        ahead[:, :2] += 0.05 * normal
        at = camera.project(edge)
        along = camera.project(ahead) - at
        plan.append(flat)
        pixels.append(at)
        normals.append(along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9))
    return Arcs(np.concatenate(plan), np.concatenate(pixels), np.concatenate(normals))
