"""Leads starts to where whole rotors are seen: a constellation of rotors and marks, sought together.

A start from the template is some millimetres off in every rotor, since tilt and lens stretch the plan unevenly. So
each rotor (its circles and finger blocks as one) and each mark is sought by itself around a start, and its best few
places are kept: most are chance. Two or three of them at a time say how the plan would have to be shifted, turned,
sized and stretched (an affine map, its stretch held small); all others must agree with that, and the sketch as a
whole tells which map is meant. The idea is that of R. C. Bolles, M. A. Fischler, A RANSAC-based approach to model
fitting and its application to finding cylinders in range data, IJCAI 1981, with all small samples tried.
"""

from dataclasses import dataclass
from functools import cache
from itertools import combinations, product

import numpy as np
import numpy.typing as npt

from vision.camera import Camera, fit, focal_prior_px
from vision.sketch import EdgeLevel, Sketch, local, one_view, per_point

Floats = npt.NDArray[np.float64]
Reals = npt.NDArray[np.float32]
Ints = npt.NDArray[np.intp]

_REACH_MM, _STEP_MM = 12.0, 1.0
_PLACES, _APART = 4, 3  # places kept a group, and how many steps they lie apart at least
_FAR_COST = 0.0003  # agreement a square millimetre: of two like places the nearer is meant
_SAMPLES = 400  # of two or three places, tried at each start
# Sigmas: a place (mm), size and stretch (shares); what lies beyond the bounds is not meant.
_PLACE_MM, _SIZE, _STRETCH = 1.2, 0.12, 0.10
_SIZE_MOST, _TURN_MOST, _STRETCH_MOST = 0.35, 0.4, 0.25
_KEPT_EACH, _APART_PX = 3, 3.0
_TILT_SIGMA = 0.35


@dataclass(frozen=True)
class _Start:
    """A start as the sketch sees it: its camera, and middles (k, 2) and Jacobians (k, 2, 2) of the landmarks."""

    camera: Camera
    middles: Reals
    turns: Reals


def led(
    starts: list[Camera], sketch: Sketch, edges: EdgeLevel, size: tuple[int, int], count: int
) -> list[Camera]:
    """The `count` best cameras that differ, best first, to which small samples of rotors and marks lead."""
    groups = _groups(sketch)
    found: list[tuple[float, Camera, Reals]] = []
    for number, camera in enumerate(starts):
        middles, turns = (part[0] for part in local(sketch, one_view(camera), edges.scale))
        start = _Start(camera, middles, turns)
        maps, about = _maps(start, _places(start, sketch, edges, groups), edges, groups, number)
        scores, at = _agreement(start, maps, about, sketch, edges)
        found += [(float(scores[i]), camera, at[i]) for i in np.argsort(-scores)[:_KEPT_EACH]]
    found.sort(key=lambda one: -one[0])
    kept: list[tuple[Camera, Reals]] = []
    for _, camera, at in found:
        if all(np.abs(at - other).max() > _APART_PX for _, other in kept):
            kept.append((camera, at))
        if len(kept) == count:
            break
    return [_camera(camera, at, sketch, edges, size) for camera, at in kept]


def _groups(sketch: Sketch) -> Ints:
    """Number of the group of each landmark: one a rotor, one a mark."""
    names = [owner or f"mark {i}" for i, owner in enumerate(sketch.owners)]
    order = list(dict.fromkeys(names))
    return np.array([order.index(name) for name in names])


def _places(start: _Start, sketch: Sketch, edges: EdgeLevel, groups: Ints) -> list[Reals]:
    """Shifts (n, 2) in pixels, best first, at which each group is seen around a start."""
    reach = int(np.ceil(_REACH_MM / _STEP_MM))
    axis = (np.arange(-reach, reach + 1) * _STEP_MM).astype(np.float32)
    side = len(axis)
    steps = np.stack(np.meshgrid(axis, axis), axis=-1).reshape(-1, 2)
    shifts = steps @ start.turns.mean(axis=0).T
    owner, counts = sketch.owner, groups.max() + 1
    seen = per_point(
        sketch,
        start.middles[owner] + shifts[:, None],
        np.broadcast_to(start.turns[owner], (1, len(owner), 2, 2)),
        edges,
    )
    member = np.zeros((len(owner), counts), np.float32)
    member[np.arange(len(owner)), groups[owner]] = sketch.weights
    total = seen @ (member / np.maximum(member.sum(axis=0), 1e-9))
    total -= np.float32(_FAR_COST) * (steps**2).sum(axis=1)[:, None]
    found = []
    for group in range(counts):
        left, best = total[:, group].reshape(side, side).copy(), []
        for _ in range(_PLACES):
            row, column = divmod(int(left.argmax()), side)
            best.append(shifts[row * side + column])
            left[max(0, row - _APART) : row + _APART + 1, max(0, column - _APART) : column + _APART + 1] = -1
        found.append(np.array(best, np.float32))
    return found


@cache
def _samples(counts: int, seed: int) -> tuple[tuple[tuple[int, ...], Ints], ...]:
    """Which places of which groups are tried together: groups, and the number of each one's place (n, groups)."""
    every = [
        (some, places)
        for many in (2, 3)
        for some in combinations(range(counts), many)
        for places in product(range(_PLACES), repeat=many)
    ]
    if len(every) > _SAMPLES:
        drawn = np.random.default_rng(seed).choice(len(every), _SAMPLES, replace=False)
        every = [every[i] for i in drawn]
    tried: dict[tuple[int, ...], list[tuple[int, ...]]] = {}
    for some, places in every:
        tried.setdefault(some, []).append(places)
    return tuple((some, np.array(places)) for some, places in tried.items())


def _maps(
    start: _Start, places: list[Reals], edges: EdgeLevel, groups: Ints, seed: int
) -> tuple[Reals, Reals]:
    """Maps of the picture (n, 6: shift, size, turn, two stretches) to which samples lead, about a middle (2,)."""
    at = np.array([start.middles[groups == group].mean(axis=0) for group in range(len(places))])
    about = at.mean(axis=0)
    px_per_mm = start.camera.px_per_mm(np.zeros(3)) * edges.scale
    held = np.diag([0, 0, _SIZE**-2, _SIZE**-2, _STRETCH**-2, _STRETCH**-2]) * (_PLACE_MM * px_per_mm) ** 2
    found: list[Floats] = [np.zeros((1, 6))]
    for some, which in _samples(len(places), seed):
        here = at[list(some)] - about
        x, y = here.T
        one, none = np.ones_like(x), np.zeros_like(x)
        rows = np.stack(
            [np.stack([one, none, x, -y, x, y], 1), np.stack([none, one, y, x, -y, x], 1)], axis=1
        ).reshape(-1, 6)
        solver = np.linalg.solve(rows.T @ rows + held + 1e-9 * np.eye(6), rows.T)
        moved = np.stack([places[group][which[:, i]] for i, group in enumerate(some)], axis=1)
        found.append(np.asarray(moved.reshape(len(which), -1) @ solver.T, np.float64))
    maps = np.concatenate(found)
    meant = (np.abs(maps[:, 2]) < _SIZE_MOST) & (np.abs(maps[:, 3]) < _TURN_MOST)
    meant &= np.hypot(maps[:, 4], maps[:, 5]) < _STRETCH_MOST
    return maps[meant].astype(np.float32), about.astype(np.float32)


def _agreement(
    start: _Start, maps: Reals, about: Reals, sketch: Sketch, edges: EdgeLevel
) -> tuple[Reals, Reals]:
    """Agreement of the whole sketch under each map (n,), and the landmarks' middles there (n, k, 2)."""
    _, _, size, turn, one, other = maps.T
    matrix = np.stack(
        [np.stack([1 + size + one, other - turn], 1), np.stack([other + turn, 1 + size - one], 1)], 1
    )
    at = np.einsum("nij,kj->nki", matrix, start.middles - about) + about + maps[:, None, :2]
    turns = np.matmul(matrix[:, None], start.turns)
    owner = sketch.owner
    return per_point(sketch, at[:, owner], turns[:, owner], edges) @ sketch.weights, at


def _camera(camera: Camera, at: Reals, sketch: Sketch, edges: EdgeLevel, size: tuple[int, int]) -> Camera:
    pixels = (at.astype(np.float64) + 0.5) / edges.scale - 0.5
    plan = sketch.anchors.astype(np.float64)
    sigma = camera.px_per_mm(plan[0])
    return fit(
        camera,
        plan,
        pixels,
        sigma_px=sigma,
        focal_prior_px=focal_prior_px(*size),
        tilt_sigma=_TILT_SIGMA,
        steps=8,
    ).camera
