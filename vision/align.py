"""Moves a camera until all landmarks agree at once: a cross-entropy search over shift, turn, size and tilt.

No landmark is placed alone, so one that is hidden or taken for another cannot pull the camera away from
what the others say. (The method: R. Y. Rubinstein, The cross-entropy method for combinatorial and
continuous optimization, 1999.)
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from vision.camera import Camera, rotation_vector
from vision.landmarks import AgreementMap, Landmarks, cell_of

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

_DRAWS, _ELITE, _ROUNDS = 600, 25, 6
# Steep views are rarer and their templates worse: agreement must pay for tilt, and more beyond 43 degrees.
_TILT_COST, _STEEP_RAD, _STEEP_COST = 0.02, 0.75, 0.15


@dataclass(frozen=True)
class Reach:
    """How far a search goes: sigmas of shift (mm), turn, size (log) and tilt; how soft the templates are."""

    shift_mm: float
    turn: float
    size: float
    tilt: float
    spread_px: float
    softness_mm: float


WIDE = Reach(5.0, 0.10, 0.08, 0.30, 2.5, 1.0)
MIDDLE = Reach(4.0, 0.08, 0.06, 0.30, 1.5, 0.7)
NARROW = Reach(2.0, 0.04, 0.03, 0.15, 0.8, 0.6)


@dataclass(frozen=True)
class Aligned:
    """A camera and the agreement of all landmarks under it (0 none, about 0.2 in a clear photo)."""

    camera: Camera
    score: float


def align(  # noqa: PLR0913 - what is seen, where to begin, what to find, how far, which draws
    pixels: Pixels, start: Camera, landmarks: Landmarks, middle_mm: Floats, reach: Reach, seed: int = 0
) -> Aligned:
    """Search around a start; deterministic for a given seed."""
    maps = landmarks.maps(pixels, start, reach.softness_mm, reach.spread_px)
    if len(maps) < 6:  # fewer than two rotors in view: nothing holds six unknowns
        return Aligned(start, 0.0)
    chance = np.random.default_rng(seed)
    total = landmarks.total_weight()
    mean, sigma = np.zeros(6), np.array([reach.shift_mm] * 2 + [reach.turn, reach.size] + [reach.tilt] * 2)
    best, best_score = start, -np.inf
    for _ in range(_ROUNDS):
        draws = mean + chance.normal(size=(_DRAWS, 6)) * sigma
        draws[0] = mean
        rotations, places = _moved(start, middle_mm, draws)
        score = _score(start, rotations, places, middle_mm, maps) / total
        tilt = np.arccos(np.clip(-rotations[:, 2, 2], -1, 1))
        score -= _TILT_COST * tilt**2 + _STEEP_COST * np.maximum(tilt - _STEEP_RAD, 0)
        order = np.argsort(-score)[:_ELITE]
        mean, sigma = draws[order].mean(axis=0), draws[order].std(axis=0) + 1e-4
        top = int(order[0])
        if score[top] > best_score:
            best_score = float(score[top])
            rotation = rotations[top]
            rvec = rotation_vector(rotation)
            best = replace(start, rvec=rvec, tvec=places[top] - rotation @ middle_mm)
    return Aligned(best, best_score)


def tilted(camera: Camera, middle_mm: Floats, tilt: float, direction: float) -> Camera:
    """Tilt the plan under a camera about its own middle (radian)."""
    turn = np.asarray(cv2.Rodrigues(np.array([np.cos(direction), np.sin(direction), 0.0]) * tilt)[0])
    place = camera.rotation @ middle_mm + camera.tvec
    rotation = turn @ camera.rotation
    return replace(camera, rvec=rotation_vector(rotation), tvec=place - rotation @ middle_mm)


def _moved(start: Camera, middle_mm: Floats, draws: Floats) -> tuple[Floats, Floats]:
    """Rotations (n, 3, 3) and middles of the plan (n, 3) for draws of (dx, dy, turn, size, tilt, tilt)."""
    rotations = _rotations(draws[:, [4, 5, 2]]) @ start.rotation
    middle = start.rotation @ middle_mm + start.tvec
    places = np.tile(middle, (len(draws), 1))
    places[:, 2] *= np.exp(draws[:, 3])
    places[:, :2] = middle[:2] * (places[:, 2:] / middle[2]) + draws[:, :2]
    return rotations, places


def _rotations(vectors: Floats) -> Floats:
    """Rodrigues' formula for many vectors at once."""
    angle = np.linalg.norm(vectors, axis=1) + 1e-12
    x, y, z = (vectors / angle[:, None]).T
    zero = np.zeros_like(x)
    cross = np.array([[zero, -z, y], [z, zero, -x], [-y, x, zero]]).transpose(2, 0, 1)
    sine, versine = np.sin(angle)[:, None, None], (1 - np.cos(angle))[:, None, None]
    return np.asarray(np.eye(3) + sine * cross + versine * (cross @ cross))


def _score(
    start: Camera, rotations: Floats, places: Floats, middle_mm: Floats, maps: list[AgreementMap]
) -> Floats:
    plan = np.array([m.landmark.plan for m in maps]) - middle_mm
    seen = np.einsum("nij,mj->nmi", rotations, plan) + places[:, None]
    n = seen[..., :2] / np.maximum(seen[..., 2:], 1e-3)
    r2 = np.minimum((n * n).sum(axis=-1, keepdims=True), 1.0)
    pixels = start.centre + start.f_px * n * (1 + start.k1 * r2)
    score: Floats = np.zeros(len(rotations))
    for i, found in enumerate(maps):
        rows, columns = cell_of((pixels[:, i] - found.at_px) @ found.mm_per_px.T, found.landmark.offset_mm)
        score += found.landmark.weight * found.agreement[rows, columns]
    return score
