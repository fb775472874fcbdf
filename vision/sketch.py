"""The switch as a sketch: edge points of each rotor's circles and finger blocks, and of way-up marks.

A camera is judged by laying the whole sketch into the photo's field of edge directions, each point at its own
height and with its normal turned as perspective turns it. Nothing is linearised, so that a view from the side
is as easy to judge as one from above, and hundreds of cameras are judged at once.
"""

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from vision.camera import Camera
from vision.circles import drum_face_mm
from vision.layout import Layout, RotorPlan
from vision.photo import Photo
from vision.search import edge_field

Floats = npt.NDArray[np.float64]
Reals = npt.NDArray[np.float32]
Pixels = npt.NDArray[np.uint8]
Field = npt.NDArray[np.complex64]

FINGER_MM = 5.5  # from the drum's rim outwards to the middle of a finger block
RING_POINTS, CUT_POINTS = 28, 26
_POINTS_LEAST = 2  # so that one is left when the sketch is thinned
FINGER_WEIGHT, MARK_WEIGHT = 0.7, 1.0
_CUT_PX_PER_MM = 2.0
# Mean of 2 area / (squared stretches) over the landmarks: 0.87 is a view 54 degrees off the normal.
_UPRIGHT_LEAST = 0.87
NO_VIEW = -1.0  # agreement of a view too flat or too near to be meant
# Area of the nearest part of the plan against the farthest in the photo.
_UNEVEN_MOST = 5.0
# What a millimetre (squared) off its place costs a landmark: of two like circles the nearer is meant.
_FAR_COST = 0.001


@dataclass(frozen=True)
class Sketch:
    """Edge points of one layout.

    Attributes
    ----------
    anchors : (k, 3) float32
        Middle of each landmark in the plan, mm.
    owner : (p,) int
        Landmark of each point.
    offsets : (p, 2) float32
        Point less its landmark's middle, mm.
    normals : (p, 2) float32
        Unit normals of the edges in the plan.
    weights : (p,) float32
        Weights of the points; they add up to one over the whole sketch.
    kinds, owners : tuple of str
        Of each landmark: ring, finger or mark; the rotor it belongs to, empty for a mark.

    """

    anchors: Reals
    owner: npt.NDArray[np.intp]
    offsets: Reals
    normals: Reals
    weights: Reals
    kinds: tuple[str, ...]
    owners: tuple[str, ...]


@dataclass(frozen=True)
class EdgeLevel:
    """The photo's edge directions at one size and softness, with a rim of zeros; pixel = scale * (x + 0.5) + 0.5."""

    field: Field
    scale: float


def level(pixels: Pixels, long_edge: int, softness_px: float) -> EdgeLevel:
    """Reduce a photo and take its edge directions, smoothed by `softness_px` of the reduced picture."""
    scale = min(1.0, long_edge / max(pixels.shape[:2]))
    small = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    field = edge_field(np.asarray(small, np.uint8))
    return EdgeLevel(_softened(field, softness_px), scale)


def _softened(field: Field, sigma: float) -> Field:
    parts = np.ascontiguousarray(field).view(np.float32).reshape(*field.shape, 2)
    soft = cv2.GaussianBlur(parts, (0, 0), sigma) if sigma > 0 else parts
    rimmed: Any = cv2.copyMakeBorder(soft, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=(0, 0))
    return np.ascontiguousarray(rimmed, np.float32).view(np.complex64)[..., 0]


def thinned(sketch: Sketch) -> Sketch:
    """Every second point, for a first look; each landmark keeps its weight."""
    some = np.arange(0, len(sketch.owner), 2)
    owner = sketch.owner[some]
    whole = np.bincount(sketch.owner, sketch.weights, len(sketch.anchors))
    kept = np.bincount(owner, sketch.weights[some], len(sketch.anchors))
    weights = sketch.weights[some] * (whole / np.maximum(kept, 1e-9))[owner]
    return replace(
        sketch,
        owner=owner,
        offsets=sketch.offsets[some],
        normals=sketch.normals[some],
        weights=weights.astype(np.float32),
    )


def sketch_of(layout: Layout, reference: Photo) -> Sketch:
    """Draw the sketch of a layout: circles from its figures, finger blocks and marks from its reference photo.

    A block or mark that shows no edges there (glare, no contrast) is left out: it can be found nowhere.
    """
    assert layout.reference is not None  # noqa: S101 - only a searchable layout has a sketch
    cutter = _Cutter(
        np.diag([1 / reference.scale, 1 / reference.scale, 1.0]) @ layout.reference.plan_to_px, reference
    )
    drawn = [(rotor.id, part) for rotor in layout.rotors for part in _rings(rotor) + _fingers(rotor, cutter)]
    for mark in layout.way_up_marks:
        reach = np.array(mark.size_mm) / 2 + 2
        found = cutter.edges(np.array(mark.centre_mm), reach, square=True)
        middle = np.array([*mark.centre_mm, mark.z_mm])
        drawn.append(("", ("mark", middle, *found[:2], MARK_WEIGHT, found[2])))
    drawn = [(owner, part) for owner, part in drawn if len(part[2]) >= _POINTS_LEAST]
    parts = [part for _, part in drawn]
    total = sum(part[4] for part in parts)
    return Sketch(
        anchors=np.array([part[1] for part in parts], np.float32),
        owner=np.concatenate([np.full(len(part[2]), i) for i, part in enumerate(parts)]),
        offsets=np.concatenate([part[2] for part in parts]).astype(np.float32),
        normals=np.concatenate([part[3] for part in parts]).astype(np.float32),
        weights=np.concatenate([part[4] / total * part[5] for part in parts]).astype(np.float32),
        kinds=tuple(part[0] for part in parts),
        owners=tuple(owner for owner, _ in drawn),
    )


def _rings(rotor: RotorPlan) -> list[tuple[str, Floats, Floats, Floats, float, Floats]]:
    turn = (np.arange(RING_POINTS) + 0.5) * 2 * np.pi / RING_POINTS
    normal = np.column_stack([np.cos(turn), np.sin(turn)])
    even = np.full(RING_POINTS, 1 / RING_POINTS)
    heights = ((rotor.upper_disc_radius_mm, 0.0), (rotor.drum_radius_mm, drum_face_mm(rotor)))
    return [
        ("ring", np.array([*rotor.centre_mm, z]), normal * radius, normal, 1.0, even) for radius, z in heights
    ]


def _fingers(rotor: RotorPlan, cutter: "_Cutter") -> list[tuple[str, Floats, Floats, Floats, float, Floats]]:
    axis, low = np.radians(rotor.finger_axis_deg), drum_face_mm(rotor)
    parts = []
    for side in (1.0, -1.0):
        middle = np.array(rotor.centre_mm) + side * np.array([np.cos(axis), np.sin(axis)]) * (
            rotor.drum_radius_mm + FINGER_MM
        )
        found = cutter.edges(middle, np.full(2, FINGER_MM + 1), square=False)
        parts.append(("finger", np.append(middle, low), *found[:2], FINGER_WEIGHT, found[2]))
    return parts


class _Cutter:
    """Takes the strongest edges around a place of the reference photo."""

    def __init__(self, plan_to_px: Floats, reference: Photo) -> None:
        self._plan_to_px = plan_to_px
        self._picture = cv2.GaussianBlur(reference.pixels, (0, 0), 1.2)

    def edges(self, middle: Floats, reach: Floats, *, square: bool) -> tuple[Floats, Floats, Floats]:
        """Offsets (n, 2), normals (n, 2) and shares (n,) of edge points around `middle`."""
        count = int(np.ceil((reach.max() + 2) * _CUT_PX_PER_MM))
        axis = np.arange(-count, count + 1) / _CUT_PX_PER_MM
        x, y = np.meshgrid(axis, -axis)
        plan = np.stack([x + middle[0], y + middle[1]], axis=-1).reshape(-1, 1, 2)
        at = cv2.perspectiveTransform(plan, self._plan_to_px).reshape(*x.shape, 2).astype(np.float32)
        cut = np.asarray(cv2.remap(self._picture, at[..., 0], at[..., 1], cv2.INTER_LINEAR), np.uint8)
        field = edge_field(np.asarray(cv2.GaussianBlur(cut, (0, 0), 0.8), np.uint8))
        within = (abs(x) < reach[0]) & (abs(y) < reach[1]) if square else np.hypot(x, y) < reach.max()
        strength = np.abs(field) * within
        picked = []
        for _ in range(CUT_POINTS):
            row, column = divmod(int(strength.argmax()), strength.shape[1])
            if strength[row, column] < 0.05:
                break
            picked.append((row, column))
            strength[max(0, row - 1) : row + 2, max(0, column - 1) : column + 2] *= 0.25
        if not picked:
            return np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0)
        rows, columns = np.array(picked).T
        half = np.angle(field[rows, columns]) / 2
        normals = np.column_stack([np.cos(half), -np.sin(half)])  # rows run down
        share = np.abs(field[rows, columns])
        return np.column_stack([x[rows, columns], y[rows, columns]]), normals, share / share.sum()


@dataclass(frozen=True)
class Views:
    """Many cameras at once: rotations (n, 3, 3), places of the plan's origin (n, 3), focal lengths and k1 (n,)."""

    rotations: Reals
    places: Reals
    f_px: Reals
    k1: Reals
    centre: Reals


def one_view(camera: Camera) -> Views:
    """One camera as views."""
    return Views(
        camera.rotation[None].astype(np.float32),
        camera.tvec[None].astype(np.float32),
        np.array([camera.f_px], np.float32),
        np.array([camera.k1], np.float32),
        camera.centre.astype(np.float32),
    )


def agreement(sketch: Sketch, views: Views, edges: EdgeLevel) -> Reals:
    """How well the sketch lies on edges under each view, (n,); `NO_VIEW` where the view is too flat to be meant.

    Seen nearly along the plan, every edge runs the same way, and any straight edge of the photo would do.
    """
    at, turn = local(sketch, views, edges.scale)
    a, b, c, d = (turn[..., i, j] for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)))
    area = np.abs(a * d - b * c)
    upright = (2 * area / np.maximum(a * a + b * b + c * c + d * d, 1e-9)).mean(axis=1)
    uneven = area.max(axis=1) / np.maximum(area.min(axis=1), 1e-9)
    found = per_point(sketch, at, turn, edges)
    return np.where((upright < _UPRIGHT_LEAST) | (uneven > _UNEVEN_MOST), NO_VIEW, found @ sketch.weights)


@dataclass(frozen=True)
class Nudges:
    """Where each landmark fits best near its place: pixels (k, 2), agreement (k,), and whether that is a peak."""

    at_px: Floats
    agreement: Floats
    peak: npt.NDArray[np.bool_]


def nudges(sketch: Sketch, camera: Camera, edges: EdgeLevel, reach_mm: float) -> Nudges:
    """Move each landmark by itself within reach of where a camera puts it."""
    middles, turns = (part[0] for part in local(sketch, one_view(camera), edges.scale))
    axis = np.linspace(-reach_mm, reach_mm, 13, dtype=np.float32)
    steps = np.stack(np.meshgrid(axis, axis), axis=-1).reshape(-1, 2)
    moved = stepped(middles, turns, steps)
    owner = sketch.owner
    found = per_point(sketch, moved, turns[None], edges) * sketch.weights
    share = np.bincount(owner, sketch.weights, len(sketch.anchors))
    total = np.add.reduceat(found, np.searchsorted(owner, np.arange(len(share))), axis=1) / share
    near = total - _FAR_COST * (steps**2).sum(axis=1)[:, None]
    best, each = near.argmax(axis=0), np.arange(len(share))
    at = (moved[best, each] + 0.5) / edges.scale - 0.5
    return Nudges(at.astype(np.float64), total[best, each], np.abs(steps[best]).max(axis=1) < 0.99 * reach_mm)


def loose(sketch: Sketch, camera: Camera, edges: EdgeLevel, reach_mm: float) -> float:
    """Mean agreement of all landmarks by their weights, each at its best within reach of where a camera puts it."""
    found = nudges(sketch, camera, edges, reach_mm).agreement
    return float(found @ np.bincount(sketch.owner, sketch.weights, len(found)))


def stepped(middles: Reals, turns: Reals, steps: Reals) -> Reals:
    """Pixels (s, k, 2) of landmarks at (k, 2) after steps (s, 2) in the plan, mm; `turns` are the plan's Jacobians."""
    return np.asarray(middles + (turns @ steps.T).transpose(2, 0, 1), np.float32)


def per_point(sketch: Sketch, at: Reals, turn: Reals, edges: EdgeLevel) -> Reals:
    """Agreement of every point (n, p), the landmarks lying at (n, k, 2) and the plan turned there by `turn`.

    `turn` is (n, k, 2, 2), or (1, k, 2, 2) where it is the same each time.
    """
    owner = sketch.owner
    a, b, c, d = (turn[..., i, j][:, owner] for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)))
    ox, oy = sketch.offsets.T
    height, width = edges.field.shape
    x, y = at[..., 0].take(owner, axis=1), at[..., 1].take(owner, axis=1)
    # Half a pixel more, cut down to whole ones, is rounding for all that lies in the picture; its rim is zero.
    columns = np.clip(x + (a * ox + b * oy + np.float32(1.5)), 0, width - 1).astype(np.int32)
    rows = np.clip(y + (c * ox + d * oy + np.float32(1.5)), 0, height - 1).astype(np.int32)
    rows *= width
    rows += columns
    seen = edges.field.reshape(-1).take(rows)
    nx, ny = sketch.normals.T
    px, py = d * nx - c * ny, a * ny - b * nx  # the inverse transpose, but for its determinant
    square = px * px + py * py + np.float32(1e-12)
    return np.asarray(
        seen.real * ((px * px - py * py) / square) + seen.imag * (2 * px * py / square), np.float32
    )


def local(sketch: Sketch, views: Views, scale: float) -> tuple[Reals, Reals]:
    """Pixels of the landmarks (n, k, 2) in the reduced picture, and the plan's 2 x 2 Jacobian there (n, k, 2, 2)."""
    n, z, bend = _rays(sketch, views)
    # d(n)/d(plan x, y) = (R[:2, :2] - n R[2, :2]) / z; the lens then stretches by bend + 2 k1 n n^T.
    flat = (views.rotations[:, None, :2, :2] - n[..., None] * views.rotations[:, None, 2:3, :2]) / z[
        ..., None
    ]
    k1, f = views.k1[:, None, None], views.f_px[:, None, None]
    lens = bend[..., None] * np.eye(2, dtype=np.float32) + 2 * k1[..., None] * n[..., None] * n[..., None, :]
    turn = np.matmul(lens, flat) * (f[..., None] * np.float32(scale))
    return _on_picture(views, n * bend, scale), turn.astype(np.float32)


def projected(sketch: Sketch, views: Views, scale: float) -> Reals:
    """Pixels of the landmarks (n, k, 2) alone, as `local` gives them."""
    n, _, bend = _rays(sketch, views)
    return _on_picture(views, n * bend, scale)


def _rays(sketch: Sketch, views: Views) -> tuple[Reals, Reals, Reals]:
    """Of each landmark under each view: direction (n, k, 2), depth and the lens's stretch (n, k, 1)."""
    seen = sketch.anchors @ views.rotations.transpose(0, 2, 1) + views.places[:, None]
    z = np.maximum(seen[..., 2:], np.float32(1e-3))
    n = seen[..., :2] / z
    r2 = np.minimum((n * n).sum(axis=-1, keepdims=True), np.float32(1.0))
    return n, z, 1 + views.k1[:, None, None] * r2


def _on_picture(views: Views, bent: Reals, scale: float) -> Reals:
    at = (views.centre + np.float32(0.5) + views.f_px[:, None, None] * bent) * np.float32(scale)
    return np.asarray(at - np.float32(0.5), np.float32)
