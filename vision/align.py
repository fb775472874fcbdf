"""Moves a camera until the whole sketch of the switch lies on the photo's edges: from many starts to a few finds.

Each start is thrown widely about (shift, turn, size, tilt); the best throws are searched on by the
cross-entropy method (R. Y. Rubinstein, The cross-entropy method for combinatorial and continuous
optimization, 1999), and each landmark's own best place nearby, all fitted by one camera, is a proposal that a
search may take up: it leads out of a camera that is right in most landmarks and wrong in its tilt. A plan
seen from afar looks nearly alike tilted either way, so both ways are kept until heights tell them apart.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from vision.camera import Camera, fit, focal_prior_px, rotation_vector
from vision.sketch import EdgeLevel, Sketch, Views, agreement, level, nudges, thinned

Floats = npt.NDArray[np.float64]
Reals = npt.NDArray[np.float32]
Pixels = npt.NDArray[np.uint8]

# Steep views are rarer: agreement must pay for tilt, and more beyond 43 degrees; so it must for odd lenses.
_TILT_COST, _STEEP_RAD, _STEEP_COST, _LENS_COST = 0.02, 0.75, 0.15, 0.005
_SIZE_MOST = 0.5  # log of the size against the start's
# Sigmas of shift (mm, twice), turn, size (log), tilt (radian, twice), focal length (log), k1.
_THROW = np.array([5, 5, 0.10, 0.08, 0, 0, 0, 0])
_THROW_TILT = 0.38
_AROUND_THROW = np.array([2.5, 2.5, 0.05, 0.04, 0.12, 0.12, 0, 0])
_AROUND_FIT = np.array([1, 1, 0.02, 0.02, 0.05, 0.05, 0.1, 0.02])
_AROUND_END = np.array([0.5, 0.5, 0.01, 0.01, 0.03, 0.03, 0.05, 0.02])
_LENS = np.array([0.12, 0.03])
# Below these sigmas a search does not shrink: wide, middle and fine.
_WIDE = np.array([0.7, 0.7, 0.015, 0.015, 0.05, 0.05, 0, 0])
_MIDDLE = np.array([0.4, 0.4, 0.01, 0.01, 0.03, 0.03, 0.03, 0.01])
_FINE = np.array([0.12, 0.12, 0.003, 0.003, 0.01, 0.01, 0.02, 0.005])
_ELITE, _KEPT_SIGMA = 12, 0.25
_SIGMA_MM = {"ring": 0.8, "finger": 1.2, "mark": 0.8}
_NUDGE_LEAST = 0.05
_APART_PX = 8.0


@dataclass(frozen=True)
class Effort:
    """How much is spent: throws a start, starts searched on, draws a round, finds kept; `sure` ends it early."""

    throws: int = 300
    searched: int = 8
    draws: int = 160
    finds: int = 4
    seed: int = 0
    sure: float = 0.17


@dataclass(frozen=True)
class Aligned:
    """A camera and the agreement of the sketch under it (0 none, about 0.2 in a clear photo)."""

    camera: Camera
    score: float


@dataclass(frozen=True)
class Edges:
    """Edge directions of one photo, from soft and small to fine; `size` is the photo's width and height."""

    wide: EdgeLevel
    middle: EdgeLevel
    fine: EdgeLevel
    size: tuple[int, int]


def edges_of(pixels: Pixels) -> Edges:
    """Take a photo's edges at the three levels of the search."""
    size = (int(pixels.shape[1]), int(pixels.shape[0]))
    return Edges(level(pixels, 320, 2.0), level(pixels, 320, 1.0), level(pixels, 640, 1.2), size)


def align(
    edges: Edges,
    starts: list[Camera],
    sketch: Sketch,
    middle_mm: Floats,
    effort: Effort,
) -> list[Aligned]:
    """Search from all starts; the finds that differ, best first. Deterministic for a given effort."""
    few = thinned(sketch)
    clouds = _thrown(starts, few, edges.wide, middle_mm, effort)
    ends: list[Cloud] = []
    for cloud in clouds:
        ends += _searched(cloud, few, sketch, edges)
        ends.sort(key=lambda c: -c.best)
        if ends[0].best >= effort.sure + 0.02:
            break
    finds = []
    for cloud in _distinct(ends, middle_mm, effort.finds):
        finds.append(_finished(cloud, sketch, edges))
        if finds[-1].score >= effort.sure:
            break
    return sorted(finds, key=lambda found: -found.score)


class Cloud:
    """Cameras around a start, as draws (n, 8) of what `_THROW` lists."""

    def __init__(self, start: Camera, middle_mm: Floats, sigma: Floats, seed: int, draws: int) -> None:
        self.start, self.middle, self.sigma, self.draws = start, middle_mm, sigma.astype(np.float64), draws
        self.mean, self.top = np.zeros(8), np.zeros(8)
        self.best = -np.inf
        self.chance = np.random.default_rng(seed)

    def around(self, draw: Floats, score: float, sigma: Floats, seed: int) -> "Cloud":
        """Begin anew around one draw."""
        cloud = Cloud(self.start, self.middle, sigma, seed, self.draws)
        cloud.mean, cloud.top, cloud.best = draw.copy(), draw.copy(), score
        return cloud

    def views(self, draws: Floats) -> Views:
        """Cameras of some draws."""
        start = self.start
        rotations = _rotations(draws[:, [4, 5, 2]]) @ start.rotation
        middle = start.rotation @ self.middle + start.tvec
        f, depth = start.f_px * np.exp(draws[:, 6]), middle[2] * np.exp(draws[:, 3] + draws[:, 6])
        px = middle[:2] / middle[2] * start.f_px + draws[:, :2] * (start.f_px / middle[2])
        places = np.column_stack([px * (depth / f)[:, None], depth]) - rotations @ self.middle
        single = (part.astype(np.float32) for part in (rotations, places, f, self._k1(draws), start.centre))
        return Views(*single)

    def _k1(self, draws: Floats) -> Floats:
        return np.asarray(np.clip(self.start.k1 + draws[:, 7], -0.2, 0.12))

    def score(self, draws: Floats, sketch: Sketch, edges: EdgeLevel) -> Floats:
        """Agreement of draws, less what tilt and lens cost."""
        return self._costed(draws, lambda views: agreement(sketch, views, edges))

    def _costed(self, draws: Floats, agreed: Callable[[Views], Reals]) -> Floats:
        views = self.views(draws)
        tilt = np.arccos(np.clip(-views.rotations[:, 2, 2], -1, 1))
        cost = _TILT_COST * tilt**2 + _STEEP_COST * np.maximum(tilt - _STEEP_RAD, 0)
        cost = cost + _LENS_COST * ((draws[:, 6] / 0.35) ** 2 + (draws[:, 7] / 0.06) ** 2)
        found = agreed(views) - cost
        return np.asarray(np.where(np.abs(draws[:, 3]) > _SIZE_MOST, -1.0, found), np.float64)

    def narrow(self, sketch: Sketch, edges: EdgeLevel, floor: Floats, rounds: int) -> None:
        """Draw, and move to the best; the best of the last round is kept as `best`."""
        self.narrow_by(lambda views: agreement(sketch, views, edges), floor, rounds)

    def narrow_by(self, agreed: Callable[[Views], Reals], floor: Floats, rounds: int) -> None:
        """Narrow by any agreement of many cameras (n,), as `narrow` does by the sketch's."""
        for _ in range(rounds):
            draws = self.mean + self.chance.normal(size=(self.draws, 8)) * self.sigma
            draws[0], draws[1] = self.mean, self.top
            scores = self._costed(draws, agreed)
            order = np.argsort(-scores)[:_ELITE]
            self.mean = draws[order].mean(axis=0)
            spread = (1 - _KEPT_SIGMA) * draws[order].std(axis=0) + _KEPT_SIGMA * self.sigma
            self.sigma = np.maximum(spread, floor)
            self.best, self.top = float(scores[order[0]]), draws[order[0]].copy()

    def camera(self) -> Camera:
        """Camera of the best draw."""
        views = self.views(self.top[None])
        rotation = views.rotations[0].astype(np.float64)
        return replace(
            self.start,
            f_px=float(views.f_px[0]),
            k1=float(views.k1[0]),
            rvec=rotation_vector(rotation),
            tvec=views.places[0].astype(np.float64),
        )


def _thrown(
    starts: list[Camera], sketch: Sketch, edges: EdgeLevel, middle_mm: Floats, effort: Effort
) -> list[Cloud]:
    """Throw widely about each start; from each, up to three throws that differ in tilt."""
    throws = []
    for number, start in enumerate(starts):
        cloud = Cloud(start, middle_mm, np.zeros(8), effort.seed + number, effort.draws)
        draws = cloud.chance.normal(size=(effort.throws, 8)) * _THROW
        tilt = np.abs(cloud.chance.normal(size=effort.throws)) * _THROW_TILT
        direction = cloud.chance.uniform(0, 2 * np.pi, effort.throws)
        draws[:, 4:6] = tilt[:, None] * np.column_stack([np.cos(direction), np.sin(direction)])
        draws[:, 3] += tilt**2 / 4  # tilted, the plan looks smaller than it is
        draws[0] = 0
        scores = cloud.score(draws, sketch, edges)
        for _ in range(3):
            best = int(scores.argmax())
            if scores[best] < -0.5:
                break
            throws.append((float(scores[best]), draws[best], cloud, number))
            scores[np.hypot(*(draws[:, 4:6] - draws[best, 4:6]).T) < 0.22] = -1
    throws.sort(key=lambda throw: -throw[0])
    return [c.around(d, s, _AROUND_THROW, effort.seed + n) for s, d, c, n in throws[: effort.searched]]


def _searched(cloud: Cloud, few: Sketch, sketch: Sketch, edges: Edges) -> list[Cloud]:
    """Search on from a throw, and from where its landmarks lead."""
    cloud.narrow(few, edges.wide, _WIDE, 2)
    camera = to_landmarks(edges.size, cloud.camera(), sketch, edges.middle, (8.0, 6.0, 4.0))
    led = Cloud(camera, cloud.middle, _AROUND_FIT, 5, cloud.draws)
    cloud.sigma[6:] = _LENS
    for one in (cloud, led):
        one.narrow(few, edges.middle, _MIDDLE, 2)
    return [cloud, led]


def _finished(cloud: Cloud, sketch: Sketch, edges: Edges) -> Aligned:
    cloud.narrow(sketch, edges.fine, _FINE, 3)
    camera = to_landmarks(edges.size, cloud.camera(), sketch, edges.fine, (2.5, 1.5))
    led = Cloud(camera, cloud.middle, _AROUND_END, 6, cloud.draws)
    led.best = float(led.score(np.zeros((1, 8)), sketch, edges.fine)[0])
    better = max(cloud, led, key=lambda c: c.best)
    better.narrow(sketch, edges.fine, _FINE, 2)
    return Aligned(better.camera(), better.best)


def _distinct(clouds: list[Cloud], middle_mm: Floats, count: int) -> list[Cloud]:
    kept: list[tuple[Cloud, Floats]] = []
    around = middle_mm + np.array([[0.0, 0, 0], [20, 0, 0], [0, 20, 0]])
    for cloud in clouds:
        at = cloud.camera().project(around)
        if all(np.abs(at - other).max() > _APART_PX for _, other in kept):
            kept.append((cloud, at))
        if len(kept) == count:
            break
    return [cloud for cloud, _ in kept]


def to_landmarks(
    size: tuple[int, int], camera: Camera, sketch: Sketch, edges: EdgeLevel, reaches_mm: tuple[float, ...]
) -> Camera:
    """Let every landmark find its own best place nearby, and fit one camera to them; again with less reach."""
    prior = focal_prior_px(*size)
    kind_mm = np.array([_SIGMA_MM[kind] for kind in sketch.kinds])
    for reach in reaches_mm:
        found = nudges(sketch, camera, edges, reach)
        used = found.peak & (found.agreement >= _NUDGE_LEAST)
        if used.sum() < 4:
            return camera
        plan = sketch.anchors[used].astype(np.float64)
        doubt = np.sqrt(0.2 / np.minimum(found.agreement[used], 0.2))
        sigma = kind_mm[used] * doubt * camera.px_per_mm(plan[0])
        camera = fit(
            camera, plan, found.at_px[used], sigma_px=sigma, focal_prior_px=prior, tilt_sigma=0.5, steps=6
        ).camera
    return camera


def tilted(camera: Camera, middle_mm: Floats, tilt: float, direction: float) -> Camera:
    """Tilt the plan under a camera about its own middle (radian)."""
    turn = np.asarray(cv2.Rodrigues(np.array([np.cos(direction), np.sin(direction), 0.0]) * tilt)[0])
    place = camera.rotation @ middle_mm + camera.tvec
    rotation = turn @ camera.rotation
    return replace(camera, rvec=rotation_vector(rotation), tvec=place - rotation @ middle_mm)


def _rotations(vectors: Floats) -> Floats:
    """Rodrigues' formula for many vectors at once."""
    angle = np.linalg.norm(vectors, axis=1) + 1e-12
    x, y, z = (vectors / angle[:, None]).T
    zero = np.zeros_like(x)
    cross = np.array([[zero, -z, y], [z, zero, -x], [-y, x, zero]]).transpose(2, 0, 1)
    sine, versine = np.sin(angle)[:, None, None], (1 - np.cos(angle))[:, None, None]
    return np.asarray(np.eye(3) + sine * cross + versine * (cross @ cross))
