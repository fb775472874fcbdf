"""Recognises the layout's own tags in squares that a general decoder gives up.

A decoder has to tell each of 587 pictures of the 36h11 family from the others by single cells, black or
white. Light that bleeds over, blur or a smear spoils a few cells, and it must refuse. Here all 36 cells are
correlated, as grey values, with every picture of the family in every turn, plain and blurred; a square counts
only where a tag of the layout agrees best by far. Squares of a mirrored photo agree with mirrored pictures.
"""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Reals = npt.NDArray[np.float32]
Grey = npt.NDArray[np.uint8]

FAMILY_SIZE, CELLS = 587, 8
# Correlation of the cells with a picture, and by how much it must beat every other picture of the family. Tags
# reach 0.78 and 0.05 or more 99 times of 100; of 5,700 other squares four passed 0.7 and 0.05 together.
AGREEMENT_LEAST, LEAD_LEAST = 0.75, 0.06
# At a place where one tag is expected, and only the layout's tags compete.
EXPECTED_LEAST, EXPECTED_LEAD = 0.6, 0.15
# Difference between white and black cells under which there is nothing to see, grey levels.
CONTRAST_LEAST = 10.0
# The black border may be this far from black towards white, in shares of the difference.
_BORDER_MOST = 0.5
_SAMPLES = 5  # a cell is sampled this many times each way, its outer samples left out
_BLURS = (0.0, 0.45, 0.8)  # sigma in cells


@dataclass(frozen=True)
class Recognised:
    """A tag in a square: its number, and its corners clockwise from its own upper left (4, 2)."""

    number: int
    corners_px: Floats


def picture(number: int) -> Reals:
    """The 8 x 8 cells of a tag, 0 black and 1 white, its border included."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return np.asarray(cv2.aruco.generateImageMarker(dictionary, number, CELLS), np.float32) / np.float32(255)


def recognise(grey: Grey, squares: Floats, numbers: list[int]) -> tuple[list[Recognised], int]:
    """Recognise tags by number in squares (n, 4, 2); also count those that agree with mirrored pictures."""
    found, mirrored = [], 0
    for square in squares:
        cells = cells_of(grey, square)
        plain, flipped = _best(cells, numbers), _best(cells[:, ::-1], numbers)
        best = max(plain, flipped, key=lambda match: match.agreement)
        if best.lead < LEAD_LEAST or best.agreement < AGREEMENT_LEAST:
            continue
        if best is flipped:
            mirrored += 1
        else:
            found.append(Recognised(best.number, np.roll(square, best.turn, axis=0)))
    return found, mirrored


def is_as_expected(grey: Grey, corners: Floats, number: int, numbers: list[int]) -> bool:
    """Say whether a tag of the layout, upright by `corners`, agrees there better than the others in any turn."""
    best = _best(cells_of(grey, corners), numbers, others=numbers)
    right = best.number == number and best.turn == 0
    return right and best.agreement > EXPECTED_LEAST and best.lead > EXPECTED_LEAD


def cells_of(grey: Grey, square: Floats) -> Reals:
    """Grey values of the 8 x 8 cells inside a square's corners (4, 2), clockwise from the upper left."""
    side = CELLS * _SAMPLES
    ends = np.array([[0, 0], [side, 0], [side, side], [0, side]], np.float32) - np.float32(0.5)
    warp = cv2.getPerspectiveTransform(ends, square.astype(np.float32))
    flat = cv2.warpPerspective(
        grey,
        warp,
        (side, side),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    parts = np.asarray(flat, np.float32).reshape(CELLS, _SAMPLES, CELLS, _SAMPLES)
    return np.asarray(parts[:, 1:-1, :, 1:-1].mean(axis=(1, 3)), np.float32)


@dataclass(frozen=True)
class _Match:
    number: int
    turn: int
    agreement: float
    lead: float


_NO_MATCH = _Match(-1, 0, 0.0, 0.0)


def _best(cells: Reals, numbers: list[int], others: list[int] | None = None) -> _Match:
    """Match cells with the pictures of `numbers`; the lead is over all others of the family, or over `others`."""
    inner = cells[1:-1, 1:-1]
    values = inner.ravel() - inner.mean()
    size = float(np.linalg.norm(values))
    if size < CONTRAST_LEAST / 2 * values.size**0.5:
        return _NO_MATCH
    agreement = (_pictures() @ (values / np.float32(size))).max(axis=0)  # (numbers, turns)
    own = agreement[numbers]
    at, turn = divmod(int(own.argmax()), 4)
    rivals = agreement[others].copy() if others is not None else agreement.copy()
    rivals[(others or list(range(FAMILY_SIZE))).index(numbers[at]), turn] = -1
    match = _Match(numbers[at], turn, float(own[at, turn]), float(own[at, turn] - rivals.max()))
    white = np.rot90(picture(match.number), turn)[1:-1, 1:-1] > 0.5
    low, high = float(inner[~white].mean()), float(inner[white].mean())
    rim = np.concatenate([cells[0], cells[-1], cells[1:-1, 0], cells[1:-1, -1]])
    dark = float(rim.mean()) < low + _BORDER_MOST * (high - low)
    # Where a tag is expected, blur may have washed its border out into the white around it.
    return match if (dark or others is not None) and high - low > CONTRAST_LEAST else _NO_MATCH


@lru_cache(maxsize=1)
def _pictures() -> Reals:
    """Inner cells of every picture, plain and blurred, in every turn, as unit vectors (blurs, 587, 4, 36)."""
    fine = 4
    wide = [
        cv2.resize(
            np.pad(picture(n), 2, constant_values=1), None, fx=fine, fy=fine, interpolation=cv2.INTER_NEAREST
        )
        for n in range(FAMILY_SIZE)
    ]
    made = []
    for blur in _BLURS:
        soft = np.array([cv2.GaussianBlur(p, (0, 0), blur * fine) if blur else p for p in wide])
        parts = soft.reshape(FAMILY_SIZE, CELLS + 4, fine, CELLS + 4, fine)[:, :, 1:-1, :, 1:-1]
        inner = parts.mean(axis=(2, 4))[:, 3:-3, 3:-3]
        turned = np.stack([np.rot90(inner, k, axes=(1, 2)) for k in range(4)], axis=1)
        rows = turned.reshape(FAMILY_SIZE, 4, -1)
        rows = rows - rows.mean(axis=2, keepdims=True)
        made.append(rows / np.linalg.norm(rows, axis=2, keepdims=True))
    return np.asarray(made, np.float32)
