"""Tells whether two photos show the same switch, and whether a photo is an old one used again.

Same unit: both photos are laid straight by their readings' cameras, and the colours of what lies outside the
rotors (wires, marks, prints, dirt) are compared block by block. Bars turn and the camera moves from photo to
photo; the wires of one unit stay. A rewired switch is another unit to this measure, and says so.

Used again: a key of 64 bits from the lowest spatial frequencies of the whole picture (C. Zauner,
Implementation and benchmarking of perceptual image hash functions, 2010, section 3.2.1). Recompressing or a
slight crop turns few bits; a new photo of the same scene turns many, so a near key asks for a look, it proves
nothing.
"""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
import numpy.typing as npt
import scipy.fft
from PIL import Image

from vision.layout import Layout
from vision.patch import sampling_maps
from vision.photo import decode
from vision.reading import Reading

Floats = npt.NDArray[np.float64]
Reals = npt.NDArray[np.float32]
Bools = npt.NDArray[np.bool_]

_PX_PER_MM = 1.0
# A wire's height is not known: parallax moves it by up to the search.
_BLOCK_MM, _STEP_MM, _SEARCH_MM = 10, 5, 4
# Height of what is compared: wires and blocks lie between the discs and the plate.
_COMPARED_Z_MM = -5.0
# A block counts where at least one photo shows this much colour against the plan's median (CIE a*, b*): a
# wire, a mark.
_COLOUR_LEAST = 10.0
BLOCKS_LEAST = 12
# Mean agreement of blocks. One unit in other light and from another side reaches 0.75 and more (95 % of
# pairs), two units of one kind stay under 0.69, since marks and blocks are theirs in common.
SAME_FROM, OTHER_UP_TO = 0.77, 0.65
# Bits of 64 that may differ between a photo and its recompressed or slightly cropped copy.
NEAR_BITS = 10


@dataclass(frozen=True)
class SameUnit:
    """Whether two photos show one unit; `agreement` is the mean over `blocks` blocks, 0 to 1."""

    verdict: Literal["yes", "no", "cannot say"]
    agreement: float
    blocks: int
    reason: str


def same_unit(
    photo: bytes, reading: Reading, other: bytes, other_reading: Reading, layout: Layout
) -> SameUnit:
    """Compare what lies outside the rotors in two photos of one layout."""
    if reading.camera is None or other_reading.camera is None:
        return SameUnit("cannot say", 0.0, 0, "the switch was not found in both photos")
    one, seen_one = _laid_straight(photo, reading, layout)
    two, seen_two = _laid_straight(other, other_reading, layout)
    scores = _blocks(one, two, seen_one & seen_two & _outside_rotors(layout, one.shape))
    if len(scores) < BLOCKS_LEAST:
        return SameUnit(
            "cannot say", 0.0, len(scores), "too little outside the rotors is seen in both photos"
        )
    agreement = float(np.mean(scores))
    limits = f"from {SAME_FROM} on one unit, up to {OTHER_UP_TO} another"
    figures = f"{agreement:.2f} over {len(scores)} places; {limits}"
    if agreement >= SAME_FROM:
        return SameUnit("yes", agreement, len(scores), f"wires and marks agree: {figures}")
    if agreement <= OTHER_UP_TO:
        return SameUnit("no", agreement, len(scores), f"wires and marks differ: {figures}")
    return SameUnit("cannot say", agreement, len(scores), f"wires and marks agree in part: {figures}")


def _laid_straight(photo: bytes, reading: Reading, layout: Layout) -> tuple[Reals, Bools]:
    """Colour (a*, b*) of the plan as seen from straight above, and which pixels of it lie in the photo."""
    pixels = decode(photo).pixels
    assert reading.camera is not None  # noqa: S101 - asked by the only caller
    middle = layout.middle_mm
    mx, my = sampling_maps(
        reading.camera, middle[:2], _COMPARED_Z_MM, max(layout.plan_size_mm) / 2, _PX_PER_MM
    )
    inside = (mx >= 0) & (my >= 0) & (mx <= pixels.shape[1] - 1) & (my <= pixels.shape[0] - 1)
    soft = cv2.GaussianBlur(pixels, (0, 0), 0.5 * reading.camera.px_per_mm(middle))
    flat = cv2.remap(soft, mx, my, cv2.INTER_LINEAR)
    lab = cv2.cvtColor(flat.astype(np.float32) / np.float32(255), cv2.COLOR_BGR2Lab)
    return np.asarray(lab[..., 1:], np.float32), np.asarray(inside)


def _outside_rotors(layout: Layout, shape: tuple[int, ...]) -> Bools:
    half = shape[0] // 2
    columns, rows = np.meshgrid(np.arange(-half, half + 1), np.arange(-half, half + 1))
    x, y = columns / _PX_PER_MM + layout.middle_mm[0], -rows / _PX_PER_MM + layout.middle_mm[1]
    rim = 13.0  # the tag frame and the plan's edge say nothing about the unit
    free = (x > rim) & (y > rim) & (x < layout.plan_size_mm[0] - rim) & (y < layout.plan_size_mm[1] - rim)
    for rotor in layout.rotors:
        free &= np.hypot(x - rotor.centre_mm[0], y - rotor.centre_mm[1]) > rotor.drum_radius_mm + 1.5
    return np.asarray(free)


def _blocks(one: Reals, two: Reals, free: Bools) -> list[float]:
    """Best agreement of each coloured block of the one photo within a small shift in the other."""
    if not free.any():
        return []
    # A white balance error is common to all of a photo, so colours count against the plan's median.
    middles = [np.median(colour[free], axis=0).astype(np.float32) for colour in (one, two)]
    a, b = one - middles[0], two - middles[1]
    scores = []
    size, reach = _BLOCK_MM, _SEARCH_MM
    for top in range(reach, a.shape[0] - size - reach, _STEP_MM):
        for left in range(reach, a.shape[1] - size - reach, _STEP_MM):
            window = (slice(top, top + size), slice(left, left + size))
            wide = (slice(top - reach, top + size + reach), slice(left - reach, left + size + reach))
            colour = [float(np.sqrt((c[window] ** 2).sum(axis=2).mean())) for c in (a, b)]
            if free[window].mean() < 0.95 or max(colour) < _COLOUR_LEAST:
                continue
            scores.append(_best(a[window], b[wide]) if colour[0] >= colour[1] else _best(b[window], a[wide]))
    return scores


def _best(block: Reals, area: Reals) -> float:
    """Largest normalised product of a block's colours with an area's, over all shifts in the area."""
    match, energy = [], []
    for channel in (0, 1):
        there, own = np.ascontiguousarray(area[..., channel]), np.ascontiguousarray(block[..., channel])
        match.append(cv2.matchTemplate(there, own, cv2.TM_CCORR))
        energy.append(cv2.boxFilter(there * there, -1, own.shape[::-1], normalize=False, anchor=(0, 0)))
    shifts = np.sum(match, axis=0)
    own_energy = float((block**2).sum())
    # Where the other photo is nearly grey, its noise must not agree by being scaled up: the floor keeps it
    # low.
    nearby = np.maximum(np.sum(energy, axis=0)[: shifts.shape[0], : shifts.shape[1]], 0.15 * own_energy)
    return float((shifts / np.sqrt(nearby * max(own_energy, 1e-6))).max())


def picture_key(photo: bytes) -> int:
    """Key of 64 bits for finding a photo that was used before.

    Raises
    ------
    PhotoRefusal
        The photo cannot be decoded.

    """
    return key_of(np.asarray(cv2.cvtColor(decode(photo).pixels, cv2.COLOR_BGR2GRAY), np.uint8))


def key_of(grey: npt.NDArray[np.uint8]) -> int:
    """Key of a grey picture: signs of its 64 lowest cosine terms against their median, row by row."""
    small = np.asarray(Image.fromarray(grey).resize((32, 32), Image.Resampling.LANCZOS), np.float64)
    low = scipy.fft.dct(scipy.fft.dct(small, axis=0), axis=1)[:8, :8]
    bits = (low > np.median(low)).ravel()
    return int("".join("1" if bit else "0" for bit in bits), 2)


def bits_apart(one: int, other: int) -> int:
    """Number of bits in which two keys differ."""
    return (one ^ other).bit_count()


def near_duplicate(one: int, other: int) -> bool:
    """Say whether two keys are near enough for a person to look."""
    return bits_apart(one, other) <= NEAR_BITS
