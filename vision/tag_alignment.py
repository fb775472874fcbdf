"""Lays a tag's whole picture on the photo: corners to a fraction of a pixel, and a tag found where it is expected.

The picture, blurred, is warped onto the photo and all its edges are brought into place at once (Gauss-Newton
on the four corners; S. Baker, I. Matthews, Lucas-Kanade 20 years on: a unifying framework, IJCV 56, 2004),
with brightness, contrast and the spreading of white over black fitted along. Corners found singly are as good
as four small neighbourhoods; here every cell counts, and a shadow or a smear counts little.
"""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
import numpy.typing as npt

from vision.tag_patterns import CELLS, picture

Floats = npt.NDArray[np.float64]
Reals = npt.NDArray[np.float32]

_PX = 3  # samples a cell
_QUIET = 0.5  # cells around the tag that count along
_BLURS, _SOUGHT_BLUR = (0.15, 0.3, 0.45, 0.65, 0.9, 1.2), 0.65  # sigma of the picture's blur, cells
_AGREEMENT_SHARP = 0.985  # from here on the next blur is not tried
_ROUNDS, _SETTLED_PX = 10, 0.03
# A corner that moves further than this many cells, or a picture that agrees less, was not laid in place.
_MOVE_MOST, _AGREEMENT_LEAST = 1.5, 0.6
# Agreement of the sought picture before it is laid in place.
_SEEK_LEAST = 0.5


@dataclass(frozen=True)
class _Picture:
    """Samples of a blurred tag: value, gain by spreading white, gradients, and places, all (n,)."""

    value: Floats
    spread: Floats
    gx: Floats
    gy: Floats
    places: Floats
    shares: Floats
    """Share of each corner in a sample's place (n, 4)."""


@lru_cache(maxsize=64)
def _picture(number: int, blur: float) -> _Picture:
    up = cv2.resize(
        np.pad(picture(number), 2, constant_values=1), None, fx=_PX, fy=_PX, interpolation=cv2.INTER_NEAREST
    )
    wide = cv2.dilate(up, np.ones((3, 3), np.uint8))
    soft = np.asarray(cv2.GaussianBlur(up, (0, 0), blur * _PX), np.float64)
    spread = np.asarray(cv2.GaussianBlur(wide, (0, 0), blur * _PX), np.float64) - soft
    gy, gx = (np.asarray(one, np.float64) for one in np.gradient(soft))
    axis = (np.arange(len(soft)) + 0.5) / _PX - 2
    kept = (axis > -_QUIET) & (axis < CELLS + _QUIET)
    part = np.ix_(kept, kept)
    x, y = (grid.ravel() for grid in np.meshgrid(axis[kept], axis[kept]))
    u, v = x / CELLS, y / CELLS
    shares = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=1)
    places = np.stack([x, y, np.ones_like(x)], axis=1)
    value, more = soft[part].ravel(), spread[part].ravel()
    return _Picture(value, more, (gx[part] * _PX).ravel(), (gy[part] * _PX).ravel(), places, shares)


_SQUARE = np.array([[0, 0], [CELLS, 0], [CELLS, CELLS], [0, CELLS]], np.float32)


def align(grey: Reals, corners: Floats, number: int) -> Floats | None:
    """Lay the picture of a tag on the photo from corners (4, 2) that are a cell off at most; None where it fails.

    `grey` is the photo as float32; corners run clockwise from the tag's own upper left. A blurred tag is laid
    with a blurred picture: a sharp one would be stretched until its edges agree.
    """
    laid: tuple[Floats, float] | None = None
    for blur in _BLURS:
        one = _laid(grey, corners if laid is None else laid[0], number, blur)
        if one is None:
            continue
        if laid is not None and one[1] < laid[1]:
            break
        laid = one
        if one[1] > _AGREEMENT_SHARP:
            break
    return laid[0] if laid is not None else None


def _laid(grey: Reals, corners: Floats, number: int, blur: float) -> tuple[Floats, float] | None:
    """Lay the picture at one blur: the corners, and how well it agrees there."""
    tag, at = _picture(number, blur), corners.astype(np.float64)
    cell = float(np.linalg.norm(at - np.roll(at, 1, axis=0), axis=1).mean()) / CELLS
    plain = np.stack([tag.value, np.ones_like(tag.value), tag.spread], axis=1)
    agreement = 0.0
    for _ in range(_ROUNDS):
        warp = cv2.getPerspectiveTransform(_SQUARE, at.astype(np.float32))
        seen = tag.places @ warp.T
        x, y, z = seen[:, 0] / seen[:, 2], seen[:, 1] / seen[:, 2], seen[:, 2]
        values = cv2.remap(grey, x.astype(np.float32)[None], y.astype(np.float32)[None], cv2.INTER_LINEAR)[0]
        weight = ((x >= 0) & (y >= 0) & (x <= grey.shape[1] - 1) & (y <= grey.shape[0] - 1)).astype(
            np.float64
        )
        if weight.mean() < 0.5:
            return None
        light, off, weight = _light(plain, np.asarray(values, np.float64), weight)
        if light[0] <= 0:  # black on white, or nothing
            return None
        # Gradient of the photo as the picture tells it: the picture's own, through the inverse of the warp.
        a, b = (warp[0, 0] - x * warp[2, 0]) / z, (warp[0, 1] - x * warp[2, 1]) / z
        c, d = (warp[1, 0] - y * warp[2, 0]) / z, (warp[1, 1] - y * warp[2, 1]) / z
        gain = light[0] / (a * d - b * c)
        ix, iy = gain * (tag.gx * d - tag.gy * c), gain * (tag.gy * a - tag.gx * b)
        jacobian = np.concatenate([ix[:, None] * tag.shares, iy[:, None] * tag.shares, -plain], axis=1)
        normal = (jacobian.T * weight) @ jacobian + 1e-6 * np.eye(jacobian.shape[1])
        step = -np.linalg.solve(normal, (jacobian.T * weight) @ off)
        agreement = float(np.corrcoef(plain[:, 0], plain[:, 0] * light[0] + off)[0, 1])
        at = at + np.stack([step[:4], step[4:8]], axis=1)
        if np.abs(at - corners).max() > _MOVE_MOST * cell:
            return None
        if np.abs(step[:8]).max() < _SETTLED_PX:
            break
    return (at, agreement) if agreement > _AGREEMENT_LEAST else None


def _light(plain: Floats, values: Floats, inside: Floats) -> tuple[Floats, Floats, Floats]:
    """Fit brightness, contrast and spreading; what is left over, and the weight of each sample."""
    weight = inside
    light: Floats = np.zeros(3)
    off = values
    for _ in range(2):
        held = (plain.T * weight) @ plain + 1e-9 * np.eye(3)
        light = np.asarray(np.linalg.solve(held, (plain.T * weight) @ values))
        off = values - plain @ light
        spread = 1.4826 * float(np.median(np.abs(off[inside > 0]))) + 0.5
        weight = inside / (1 + (off / (2.5 * spread)) ** 2)
    return light, off, weight


def seek(grey: Reals, expected: Floats, number: int, reach_cells: float) -> Floats | None:
    """Look for a tag around where its corners are expected (4, 2), and lay it in place; None where it is not seen."""
    side = round((CELLS + 2 * reach_cells) * _PX)
    ends = (_SQUARE + np.float32(reach_cells)) * _PX - np.float32(0.5)
    warp = cv2.getPerspectiveTransform(ends, expected.astype(np.float32))
    flat = cv2.warpPerspective(grey, warp, (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    tag = _picture(number, _SOUGHT_BLUR)
    width = round(len(tag.value) ** 0.5)
    agreement = cv2.matchTemplate(
        cv2.GaussianBlur(flat, (0, 0), 1.0),
        tag.value.reshape(width, width).astype(np.float32),
        cv2.TM_CCOEFF_NORMED,
    )
    _, best, _, (column, row) = cv2.minMaxLoc(np.asarray(agreement))
    if best < _SEEK_LEAST:
        return None
    shift = np.array([column, row]) - (reach_cells - _QUIET) * _PX
    there = cv2.perspectiveTransform((ends + shift.astype(np.float32))[None], warp)[0].astype(np.float64)
    near = _laid(grey, there, number, _SOUGHT_BLUR)
    return None if near is None else align(grey, near[0], number)
