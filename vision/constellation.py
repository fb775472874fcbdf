"""Leads starts to where whole rotors are seen: a constellation of rotors and marks, sought together.

A start from the template is some millimetres off in every rotor, since tilt and lens stretch the plan unevenly. So
each rotor (its circles and finger blocks as one) and each mark is sought by itself around a start, and its best few
places are kept: most are chance. Two or three of them at a time say how the plan would have to be shifted, turned,
sized and stretched (an affine map, its stretch held small). The idea is that of R. C. Bolles, M. A. Fischler, A
RANSAC-based approach to model fitting and its application to finding cylinders in range data, IJCAI 1981, with all
small samples tried. How well a map fits is told by the landmarks, each of which may lie a millimetre off: an affine map
is no lens, blocks differ in make, and a sketch held exactly in place agrees with chance edges nearly as well as with
its own (parts that may move on their springs: M. A. Fischler, R. A. Elschlager, The representation and matching of
pictorial structures, IEEE Transactions on Computers, 1973).

A stretch is a tilt, to one side or the other. Both are tried, each landmark is then led to its own best place, and
heights tell the two apart. From the best of these all begins anew, since parts at different heights are seen together
only where the tilt is about right.
"""

from dataclasses import dataclass
from functools import cache, partial
from itertools import combinations, product

import cv2
import numpy as np
import numpy.typing as npt

from vision.align import Cloud, tilted, to_landmarks
from vision.camera import Camera, fit, focal_prior_px
from vision.sketch import EdgeLevel, Sketch, Views, local, loose, one_view, per_point, projected, stepped

Floats = npt.NDArray[np.float64]
Reals = npt.NDArray[np.float32]
Ints = npt.NDArray[np.intp]

_REACH_MM, _STEP_MM = 12.0, 1.0
_PLACES, _APART = 4, 3  # places kept a group, and how many steps they lie apart at least
_FAR_COST = 0.0003  # agreement a square millimetre: of two like places the nearer is meant
# Sigmas of what is drawn about a camera (as in `align`), far and near, and how many draws a round.
_FAR_SIGMA = np.array([2.5, 2.5, 0.06, 0.06, 0.22, 0.22, 0.06, 0.015])
_NEAR_SIGMA = np.array([1.2, 1.2, 0.03, 0.03, 0.1, 0.1, 0.1, 0.03])
_DRAWS, _DRAWN_ROUNDS = 240, 6
_GROUPS_LEAST = 4
_SAMPLES = 400  # of two or three places, tried at each start
# Sigmas: a place (mm), size and stretch (shares); what lies beyond the bounds is not meant.
_PLACE_MM, _SIZE, _STRETCH = 1.2, 0.12, 0.10
_SIZE_MOST, _TURN_MOST, _STRETCH_MOST = 0.35, 0.4, 0.25
# Maps kept of each start, of these how many are laid when led on, and how far kept ones lie apart (reduced pixels).
_KEPT_EACH, _LAID, _APART_PX = 3, 8, 3.0
_FEW_TRIED = 60
_FLIPPED = 4  # of the cameras that are led on, how many are tried tilted to the other side
_TILT_SIGMA, _TILT_LEAST = 0.5, 0.1
# Landmarks are led to their own best places within these, and are in place within the last.
_LED_MM, IN_PLACE_MM = (4.0, 2.5), 1.5


@dataclass(frozen=True)
class Led:
    """A camera and the mean agreement of its landmarks, each within a millimetre or so of its place."""

    camera: Camera
    score: float


@dataclass(frozen=True)
class _Start:
    """A start as the sketch sees it: its camera, and middles (k, 2) and Jacobians (k, 2, 2) of the landmarks."""

    camera: Camera
    middles: Reals
    turns: Reals


@dataclass(frozen=True)
class _Map:
    """A map of the picture from a start (shift, size, turn, two stretches) about a middle, and how well it fits."""

    score: float
    start: _Start
    figures: Reals
    about: Reals
    at: Reals

    def of(self, points: Floats) -> Floats:
        """Where the map brings points (n, 2) of the reduced picture."""
        matrix = _matrices(self.figures[None])[0].astype(np.float64)
        return np.asarray((points - self.about) @ matrix.T + self.about + self.figures[:2])


def led(  # noqa: PLR0913 - where to begin, what is sought, what is seen, how much is kept
    starts: list[Camera],
    sketch: Sketch,
    edges: EdgeLevel,
    size: tuple[int, int],
    middle_mm: Floats,
    count: int,
    laid: int = 12,
) -> list[Led]:
    """The `count` best cameras that differ, best first, to which starts lead that look straight down.

    `laid` is how many maps of the picture are laid, each tilted to either side.
    """
    maps = _best_maps(starts, sketch, edges, laid)
    cameras = [camera for one in maps for camera in _both_tilts(one, sketch, edges, size, middle_mm)]
    return _ranked([_landed(camera, sketch, edges, size) for camera in cameras], sketch, edges, count)


def led_on(  # noqa: PLR0913 - as above
    cameras: list[Camera],
    sketch: Sketch,
    edges: EdgeLevel,
    size: tuple[int, int],
    middle_mm: Floats,
    count: int,
) -> list[Led]:
    """The best `count` of cameras and of what they lead to, and of what they do when tilted to the other side.

    Under about the right tilt parts at different heights lie together, and more of them are seen.
    """
    flipped = [otherwise(camera, middle_mm) for camera in cameras[:_FLIPPED]]
    maps = _best_maps(cameras[:_LAID] + flipped, sketch, edges, _LAID)
    more = [_landed(_camera(one, sketch, edges, size), sketch, edges, size) for one in maps]
    return _ranked(cameras + more, sketch, edges, count)


def _best_maps(starts: list[Camera], sketch: Sketch, edges: EdgeLevel, count: int) -> list[_Map]:
    """The best maps that differ over all starts, best first."""
    groups, found = _groups(sketch), []
    for number, camera in enumerate(starts):
        start = _Start(camera, *(part[0] for part in local(sketch, one_view(camera), edges.scale)))
        each, steps = _responses(start, sketch, edges)
        places = _places(start, each, steps, groups)
        maps, about = _maps(start, places, edges, groups, number)
        at = np.asarray(
            np.einsum("nij,kj->nki", _matrices(maps), start.middles - about) + about + maps[:, None, :2],
            np.float32,
        )
        scores = _fitting(start, at, _loosened(each))
        tried = np.argsort(-scores)[:_FEW_TRIED]
        found += _apart(
            [_Map(float(scores[i]), start, maps[i], about, at[i]) for i in tried], _APART_PX, _KEPT_EACH
        )
    found.sort(key=lambda one: -one.score)
    return _apart(found, _APART_PX * 3, count)


def _apart(maps: list[_Map], apart_px: float, count: int) -> list[_Map]:
    kept: list[_Map] = []
    for one in maps:
        if all(np.abs(one.at - other.at).max() > apart_px for other in kept):
            kept.append(one)
        if len(kept) == count:
            break
    return kept


def _groups(sketch: Sketch) -> Ints:
    """Number of the group of each landmark: one a rotor, one a mark.

    Where that makes too few groups to tell a tilt, each finger block is a group of its own.
    """
    names = [owner or f"mark {i}" for i, owner in enumerate(sketch.owners)]
    if len(set(names)) < _GROUPS_LEAST:
        names = [f"finger {i}" if sketch.kinds[i] == "finger" else name for i, name in enumerate(names)]
    order = list(dict.fromkeys(names))
    return np.array([order.index(name) for name in names])


def _responses(start: _Start, sketch: Sketch, edges: EdgeLevel) -> tuple[Reals, Reals]:
    """Share in the agreement of each landmark, shifted in the plan (side, side, k), and the shifts (side**2, 2), mm."""
    reach = int(np.ceil(_REACH_MM / _STEP_MM))
    axis = (np.arange(-reach, reach + 1) * _STEP_MM).astype(np.float32)
    steps = np.stack(np.meshgrid(axis, axis), axis=-1).reshape(-1, 2)
    owner = sketch.owner
    at = stepped(start.middles, start.turns, steps)
    seen = per_point(sketch, at, start.turns[None], edges) * sketch.weights
    first = np.searchsorted(owner, np.arange(len(sketch.anchors)))
    each = np.add.reduceat(seen, first, axis=1)
    return np.ascontiguousarray(each.reshape(len(axis), len(axis), -1)), steps


def _places(start: _Start, each: Reals, steps: Reals, groups: Ints) -> list[Reals]:
    """Shifts (n, 2) in pixels, best first, at which each group is seen around a start."""
    side, found = each.shape[0], []
    shifts = steps @ start.turns.mean(axis=0).T
    far = (np.float32(_FAR_COST) * (steps**2).sum(axis=1)).reshape(side, side) / len(np.unique(groups))
    for group in range(groups.max() + 1):
        left, best = each[..., groups == group].sum(axis=-1) - far, []
        for _ in range(_PLACES):
            row, column = divmod(int(left.argmax()), side)
            best.append(shifts[row * side + column])
            left[max(0, row - _APART) : row + _APART + 1, max(0, column - _APART) : column + _APART + 1] = -1
        found.append(np.array(best, np.float32))
    return found


@cache
def _samples(counts: int, seed: int) -> tuple[tuple[Ints, Ints], ...]:
    """Which places of which groups are tried together: groups, and the numbers of their places, (n, 2) and (n, 3)."""
    every = [
        (some, places)
        for many in (2, 3)
        for some in combinations(range(counts), many)
        for places in product(range(_PLACES), repeat=many)
    ]
    if len(every) > _SAMPLES:
        drawn = np.random.default_rng(seed).choice(len(every), _SAMPLES, replace=False)
        every = [every[i] for i in drawn]
    by_size = [[one for one in every if len(one[0]) == many] for many in (2, 3)]
    return tuple(
        (np.array([g for g, _ in some]), np.array([at for _, at in some])) for some in by_size if some
    )


def _maps(
    start: _Start, places: list[Reals], edges: EdgeLevel, groups: Ints, seed: int
) -> tuple[Reals, Reals]:
    """Maps of the picture (n, 6: shift, size, turn, two stretches) to which samples lead, about a middle (2,)."""
    at = np.array([start.middles[groups == group].mean(axis=0) for group in range(len(places))])
    about = at.mean(axis=0)
    px_per_mm = start.camera.px_per_mm(np.zeros(3)) * edges.scale
    held = np.diag([0, 0, _SIZE**-2, _SIZE**-2, _STRETCH**-2, _STRETCH**-2]) * (_PLACE_MM * px_per_mm) ** 2
    found: list[Floats] = [np.zeros((1, 6))]
    every = np.stack(places)
    for some, which in _samples(len(places), seed):
        x, y = np.moveaxis(at[some] - about, -1, 0)
        one, none = np.ones_like(x), np.zeros_like(x)
        rows = np.stack(
            [np.stack([one, none, x, -y, x, y], -1), np.stack([none, one, y, x, -y, x], -1)], axis=2
        ).reshape(len(some), -1, 6)
        turned = rows.transpose(0, 2, 1)
        solver = np.linalg.solve(turned @ rows + held + 1e-9 * np.eye(6), turned)
        moved = every[some, which].reshape(len(some), -1, 1)
        found.append(np.asarray((solver @ moved)[..., 0], np.float64))
    maps = np.concatenate(found)
    meant = (np.abs(maps[:, 2]) < _SIZE_MOST) & (np.abs(maps[:, 3]) < _TURN_MOST)
    meant &= np.hypot(maps[:, 4], maps[:, 5]) < _STRETCH_MOST
    return maps[meant].astype(np.float32), about.astype(np.float32)


def _matrices(maps: Reals) -> Reals:
    """Linear part (n, 2, 2) of maps (n, 6)."""
    _, _, size, turn, one, other = maps.T
    rows = (np.stack([1 + size + one, other - turn], 1), np.stack([other + turn, 1 + size - one], 1))
    return np.asarray(np.stack(rows, 1), np.float32)


def _loosened(each: Reals) -> Reals:
    """Responses, each at its best within a step around."""
    return np.asarray(cv2.dilate(each, np.ones((3, 3), np.uint8)), np.float32).reshape(each.shape)


def _fitting(start: _Start, at: Reals, each: Reals) -> Reals:
    """Agreement (n,) of landmarks at (n, k, 2) by their loosened responses."""
    moved = np.matmul(np.linalg.inv(start.turns), (at - start.middles)[..., None])[..., 0]
    cells = np.rint(moved / _STEP_MM).astype(np.intp) + each.shape[0] // 2
    known = ((cells >= 0) & (cells < each.shape[0])).all(axis=-1)
    cells = np.clip(cells, 0, each.shape[0] - 1)
    found = each[cells[..., 1], cells[..., 0], np.arange(each.shape[2])]
    return np.asarray((found * known).sum(axis=1), np.float32)


def _both_tilts(
    one: _Map, sketch: Sketch, edges: EdgeLevel, size: tuple[int, int], middle_mm: Floats
) -> list[Camera]:
    """The two cameras that a map of a straight view can mean: tilted to one side or the other about one axis."""
    flat = sketch.anchors * np.array([1.0, 1.0, 0.0])
    at = (one.of((one.start.camera.project(flat) + 0.5) * edges.scale - 0.5) + 0.5) / edges.scale - 0.5
    stretch = float(np.hypot(*one.figures[4:]))
    tilt = max(float(np.arccos(np.clip((1 - stretch) / (1 + stretch), 0, 1))), _TILT_LEAST)
    axis = float(np.arctan2(one.figures[5], one.figures[4])) / 2
    starts = [tilted(one.start.camera, middle_mm, side * tilt, axis) for side in (1, -1)]
    return [_fitted(start, flat, at, size) for start in starts]


def otherwise(camera: Camera, middle_mm: Floats) -> Camera:
    """The camera tilted as far to the other side: from afar the plan looks the same under both."""
    right, up = camera.rotation[0, 2], camera.rotation[1, 2]  # of the plan's normal, in the picture
    tilt = np.radians(camera.tilt_deg())
    return tilted(camera, middle_mm, 2 * tilt, float(np.arctan2(right, -up)))


def _camera(one: _Map, sketch: Sketch, edges: EdgeLevel, size: tuple[int, int]) -> Camera:
    at = (one.at.astype(np.float64) + 0.5) / edges.scale - 0.5
    return _fitted(one.start.camera, sketch.anchors.astype(np.float64), at, size)


def _fitted(start: Camera, plan: Floats, at: Floats, size: tuple[int, int]) -> Camera:
    sigma, prior = start.px_per_mm(plan[0]), focal_prior_px(*size)
    fitted = fit(start, plan, at, sigma_px=sigma, focal_prior_px=prior, tilt_sigma=_TILT_SIGMA, steps=6)
    return fitted.camera


def _landed(camera: Camera, sketch: Sketch, edges: EdgeLevel, size: tuple[int, int]) -> Camera:
    return to_landmarks(size, camera, sketch, edges, _LED_MM)


def _ranked(cameras: list[Camera], sketch: Sketch, edges: EdgeLevel, count: int) -> list[Led]:
    """Cameras that differ, best first."""
    found = scored(cameras, sketch, edges)
    kept: list[tuple[Led, Floats]] = []
    for one in found:
        at = (one.camera.project(sketch.anchors.astype(np.float64)) + 0.5) * edges.scale - 0.5
        if all(np.abs(at - other).max() > _APART_PX for _, other in kept):
            kept.append((one, at))
        if len(kept) == count:
            break
    return [one for one, _ in kept]


def scored(cameras: list[Camera], sketch: Sketch, edges: EdgeLevel) -> list[Led]:
    """How well landmarks agree under cameras, on edges of any size; best first."""
    found = [Led(camera, loose(sketch, camera, edges, IN_PLACE_MM)) for camera in cameras]
    return sorted(found, key=lambda one: -one.score)


def sprung(camera: Camera, sketch: Sketch, edges: EdgeLevel, middle_mm: Floats) -> Led:
    """Draw cameras around one to where its landmarks agree best, each of which may lie a millimetre off its place.

    Here the camera itself is drawn, and no map of the picture: heights and perspective count.
    """
    for sigma, seed in ((_FAR_SIGMA, 3), (_NEAR_SIGMA, 4)):
        start = _Start(camera, *(part[0] for part in local(sketch, one_view(camera), edges.scale)))
        agreed = partial(_by_springs, sketch, edges, start, _loosened(_responses(start, sketch, edges)[0]))
        cloud = Cloud(camera, middle_mm, sigma, seed, _DRAWS)
        cloud.narrow_by(agreed, sigma / 8, _DRAWN_ROUNDS)
        camera = cloud.camera()
    return Led(camera, loose(sketch, camera, edges, IN_PLACE_MM))


def _by_springs(sketch: Sketch, edges: EdgeLevel, start: _Start, each: Reals, views: Views) -> Reals:
    return _fitting(start, projected(sketch, views, edges.scale), each)
