"""Measures where a rotor's bars lie across their length: points of their long edges for the camera's fit.

Rims of one colour with what lies below them hardly show, and shadows and feet of the drums draw circles of their own.
Bars are what stands out in a switch. Both pass through the rotor's middle, at right angles and at known heights, so
whatever their angle, their long edges say where that middle is.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from vision.angles import apart
from vision.camera import Camera
from vision.circles import NO_ARCS, Arcs
from vision.edges import Outlines, Support, support
from vision.layout import BarPlan, RotorPlan
from vision.outlines import lower_edges, upper_edges
from vision.patch import Patch, cut

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

# The bars count from this common peak over its best rival 15 degrees off.
RATIO_LEAST = 1.12
_COARSE_DEG, _AWAY_DEG, _ASIDE_MM = 3.0, 15.0, 0.6
_FINE_DEG = np.arange(-4.0, 4.1, 1.0)
_FINE_MM = np.arange(-0.6, 0.61, 0.2)
_PIECE_MM = np.arange(-0.5, 0.51, 0.1)
# What a millimetre (squared) aside costs, in coherence: of two like edges the nearer is meant.
_FAR_COST = 0.02
_COHERENCE_LEAST, _STRENGTH_LEAST, _SEEN_LEAST = 0.8, 4.0, 0.9


@dataclass(frozen=True)
class _Lie:
    """How one bar lies: its angle, and how far its middle line passes beside the rotor's middle."""

    angle_deg: float
    aside_mm: float


@lru_cache(maxsize=128)
def _edges(rotor: RotorPlan, bar: str, every: float) -> Outlines:
    angles = np.arange(0.0, 180.0, every)
    return upper_edges(rotor, angles) if bar == "upper" else lower_edges(rotor, angles)


def _at(rotor: RotorPlan, bar: str, angles_deg: Floats) -> Outlines:
    """Edges at whole degrees."""
    whole = _edges(rotor, bar, 1.0)
    picks = np.rint(angles_deg).astype(int) % 180
    return Outlines(whole.points[picks], whole.normals[picks])


def _aside(outlines: Outlines, angles_deg: Floats, asides_mm: Floats) -> Outlines:
    """Every outline at every distance aside: (angles x asides) candidates."""
    turn = np.radians(angles_deg)
    left = np.column_stack([-np.sin(turn), np.cos(turn)])
    moved = outlines.points[:, None] + (asides_mm[:, None] * left[:, None, :])[:, :, None, None, :]
    shape = (-1, *outlines.points.shape[1:])
    normals = np.broadcast_to(outlines.normals[:, None], moved.shape)
    return Outlines(moved.reshape(shape), normals.reshape(shape))


def bar_pieces(pixels: Pixels, camera: Camera, rotor: RotorPlan, reach_mm: float) -> Arcs:
    """Points of the long edges of both bars of a rotor within `reach_mm` of its place; none where no bar is plain."""
    centre = np.array(rotor.centre_mm)
    radius = max(rotor.drum_radius_mm, rotor.lower.length_mm / 2, rotor.upper.length_mm / 2) + 1.0 + reach_mm
    patches = [cut(pixels, camera, centre, bar.z_mm, radius) for bar in rotor.bars]
    joint, ratio, asides = _common(patches, rotor, reach_mm)
    if ratio < RATIO_LEAST:
        return NO_ARCS
    found = []
    for patch, bar, turn, aside in zip(patches, rotor.bars, (0.0, 90.0), asides, strict=True):
        # Turned by half, a bar's left side becomes its right: a distance aside holds for the angle it was found at.
        lie = _lie(patch, rotor, bar.id, (joint + turn) % 180.0, aside)
        found.append(_pieces(patch, camera, rotor, bar, lie))
    return Arcs(
        np.concatenate([one.plan for one in found]),
        np.concatenate([one.pixels for one in found]),
        np.concatenate([one.normals for one in found]),
    )


def _common(patches: list[Patch], rotor: RotorPlan, reach_mm: float) -> tuple[float, float, list[float]]:
    """Angle of the upper bar by both together, its ratio over the best rival, and both bars' distances aside."""
    count = int(reach_mm / _ASIDE_MM)
    asides: Floats = np.arange(-count, count + 1, dtype=np.float64) * _ASIDE_MM
    angles = np.arange(0.0, 180.0, _COARSE_DEG)
    curves, best = [], []
    for patch, bar in zip(patches, rotor.bars, strict=True):
        outlines = _aside(_at(rotor, bar.id, angles), angles, asides)
        mean = support(patch, outlines).coherence.mean(axis=1).reshape(len(angles), len(asides))
        mean = mean - _FAR_COST * asides**2
        best.append(asides[mean.argmax(axis=1)])
        curve = mean.max(axis=1)
        curves.append(curve / max(float(np.median(curve)), 1e-6))
    lower = np.max([np.roll(curves[1], shift) for shift in (-1, 0, 1)], axis=0)
    square = round(90.0 / _COARSE_DEG)
    joint = curves[0] + np.roll(lower, -square)
    peak = int(joint.argmax())
    rival = float(joint[apart(angles, float(angles[peak])) > _AWAY_DEG].max())
    own = [float(best[0][peak]), float(best[1][(peak + square) % len(angles)])]
    return float(angles[peak]), float(joint[peak] / max(rival, 1e-6)), own


def _figure(found: Support) -> Floats:
    return np.asarray(found.coherence.mean(axis=1) * np.sqrt(found.strength.mean(axis=1)))


def _lie(patch: Patch, rotor: RotorPlan, bar: str, near_deg: float, near_mm: float) -> _Lie:
    angles = near_deg + _FINE_DEG
    figure = _figure(support(patch, _aside(_at(rotor, bar, angles), angles, near_mm + _FINE_MM)))
    turn, aside = divmod(int(figure.argmax()), len(_FINE_MM))
    return _Lie(float(angles[turn]), float(near_mm + _FINE_MM[aside]))


def _pieces(patch: Patch, camera: Camera, rotor: RotorPlan, bar: BarPlan, lie: _Lie) -> Arcs:
    """Move every piece of the edges by itself, and keep those that are plain."""
    outline = _at(rotor, bar.id, np.array([lie.angle_deg]))
    turn = np.radians(lie.angle_deg)
    moved = outline.points + lie.aside_mm * np.array([-np.sin(turn), np.cos(turn)])
    points = moved + _PIECE_MM[:, None, None, None] * outline.normals
    found = support(patch, Outlines(points, np.broadcast_to(outline.normals, points.shape)))
    best = (found.coherence * np.sqrt(found.strength)).argmax(axis=0)
    each = np.arange(len(best))
    good = (
        (found.coherence[best, each] > _COHERENCE_LEAST)
        & (found.strength[best, each] > _STRENGTH_LEAST)
        & (found.seen[best, each] > _SEEN_LEAST)
    )
    good &= (best > 0) & (best < len(_PIECE_MM) - 1)
    middle = outline.points.shape[2] // 2
    normal = outline.normals[0, :, middle][good]
    plan = np.column_stack(
        [np.array(rotor.centre_mm) + outline.points[0, :, middle][good], np.full(len(normal), bar.z_mm)]
    )
    edge = plan.copy()
    edge[:, :2] += points[best, each, middle][good] - outline.points[0, :, middle][good]
    ahead = edge.copy()
    ahead[:, :2] += 0.05 * normal
    at = camera.project(edge)
    along = camera.project(ahead) - at
    return Arcs(plan, at, along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9))
