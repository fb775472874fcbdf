"""Finds the switch without tags: the whole plan as a template of edge directions, at every turn and size.

Edges are described by one complex number a pixel, the squared gradient direction (so that a dark and a
bright side count the same) with a locally normalised strength. The real part of the product of two such
numbers is the agreement of directions, so one complex correlation over the photo tests a template at all
places at once. The template comes from the layout's reference photo; plain size reduction makes it blind to
small things and to blur.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np
import numpy.typing as npt
import scipy.fft

from vision.camera import Camera, from_similarity
from vision.layout import Layout
from vision.photo import decode

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]
Field = npt.NDArray[np.complex64]

SIDE = 128  # pixels of the reduced photo's long edge; the plan then covers 50 to 160 of them
FILL = 0.94  # of SIDE; the rest keeps what leaves on one side from coming back on the other
ROLLS_DEG = np.arange(0.0, 360.0, 10.0)
# Length of the plan's long edge against the photo's: from a switch in a corner of the picture to one that
# overfills it.
EXTENTS = tuple(0.22 * 1.17**i for i in range(13))


@dataclass(frozen=True)
class Candidate:
    """A place where the plan may lie: a camera looking straight down, and how well edges agree there."""

    camera: Camera
    score: float


@dataclass(frozen=True)
class _Template:
    roll_deg: float
    px_per_mm: float


@dataclass(frozen=True)
class _Rolled:
    """The template of one size at all turns, as half spectra (turns, SIDE, SIDE / 2 + 1) of what `halves` gives."""

    templates: tuple[_Template, ...]
    ahead: Field
    back: Field


def edge_field(bgr: Pixels) -> Field:
    """Squared, locally normalised gradient directions of a small picture."""
    lab = cv2.cvtColor(bgr, cv2.COLOR_BGR2Lab).astype(np.float32)
    gx = cv2.Scharr(lab, cv2.CV_32F, 1, 0) / np.float32(32)
    gy = cv2.Scharr(lab, cv2.CV_32F, 0, 1) / np.float32(32)
    squared = ((gx + 1j * gy) ** 2).sum(axis=2)
    strength = np.sqrt(np.abs(squared)) + np.float32(1e-6)
    around = cv2.blur(strength, (15, 15))
    weight = strength / (
        strength + around + np.float32(2.0)
    )  # the 2 keeps noise of dark walls from counting as edges
    return np.asarray(squared / (strength * strength) * weight, np.complex64)


class Finder:
    """The template of one layout, ready at every turn and size; built once and used for many photos."""

    def __init__(self, layout: Layout) -> None:
        if layout.reference is None:
            raise ValueError("A layout without a reference photo cannot be searched for.")
        self._layout = layout
        self._reference = decode(layout.reference.photo)
        self._sizes = tuple(self._rolled(extent) for extent in EXTENTS)

    def _rolled(self, extent: float) -> _Rolled:
        px_per_mm = extent * SIDE * FILL / max(self._layout.plan_size_mm)
        spectra = [scipy.fft.fft2(self._template(px_per_mm, roll)).conj() for roll in ROLLS_DEG]
        ahead, back = (
            np.asarray(np.stack(part), np.complex64) for part in zip(*map(halves, spectra), strict=True)
        )
        return _Rolled(tuple(_Template(float(roll), px_per_mm) for roll in ROLLS_DEG), ahead, back)

    def _template(self, px_per_mm: float, roll_deg: float) -> Field:
        layout, middle = self._layout, np.full(2, (SIDE - 1) / 2)
        camera = from_similarity((SIDE, SIDE), roll_deg, px_per_mm, middle, layout.middle_mm)
        width, height = layout.plan_size_mm
        corners = np.array([[0, 0, 0], [width, 0, 0], [width, height, 0], [0, height, 0]], np.float64)
        there = camera.project(corners).astype(np.float32)
        assert layout.reference is not None  # noqa: S101 - the constructor refused a layout without one
        here = (
            cv2.perspectiveTransform(corners[None, :, :2], layout.reference.plan_to_px)[0]
            / self._reference.scale
        )
        warp = cv2.getPerspectiveTransform(here.astype(np.float32), there)
        reduction = np.sqrt(abs(np.linalg.det(warp[:2, :2])))
        picture = cv2.warpPerspective(
            self._blurred(round(4 * np.log(reduction))), warp, (SIDE, SIDE), borderMode=cv2.BORDER_REPLICATE
        )
        mask = cv2.fillConvexPoly(np.zeros((SIDE, SIDE), np.float32), np.rint(there).astype(np.int32), 1.0)
        field = edge_field(np.asarray(picture, np.uint8)) * cv2.erode(mask, np.ones((3, 3), np.uint8))
        # Dividing by the root of the energy lets large and small templates compete: what agrees by chance
        # grows the same way.
        field /= np.sqrt((np.abs(field) ** 2).sum()) + np.float32(1e-6)
        return np.asarray(field, np.complex64)

    @lru_cache(maxsize=32)  # noqa: B019 - one short-lived set a layout, freed with it after construction
    def _blurred(self, quarter_log: int) -> Pixels:
        return np.asarray(
            cv2.GaussianBlur(self._reference.pixels, (0, 0), 0.5 / np.exp(quarter_log / 4)), np.uint8
        )

    def candidates(self, pixels: Pixels, count: int) -> tuple[Candidate, ...]:
        """Find the best places, no two alike (6 % of the plan, a turn of 15 degrees, a fifth in size)."""
        height, width = pixels.shape[:2]
        reduction = SIDE * FILL / max(height, width)
        small = cv2.resize(pixels, None, fx=reduction, fy=reduction, interpolation=cv2.INTER_AREA)
        field: Field = np.zeros((SIDE, SIDE), np.complex64)
        field[: small.shape[0], : small.shape[1]] = edge_field(np.asarray(small, np.uint8))
        spectrum = scipy.fft.fft2(field)
        peaks = sorted(self._peaks(spectrum), key=lambda peak: -peak[0])
        kept: list[tuple[float, _Template, Floats]] = []
        for score, template, at in peaks:
            if len(kept) == count:
                break
            if not any(self._alike(template, at, other, there) for _, other, there in kept):
                kept.append((score, template, at))
        return tuple(self._candidate(s, t, at, reduction, (width, height)) for s, t, at in kept)

    def _peaks(self, spectrum: Field) -> list[tuple[float, _Template, Floats]]:
        found = []
        ahead, back = halves(spectrum)
        for size in self._sizes:
            agreed = scipy.fft.irfft2(ahead * size.ahead + back * size.back, s=(SIDE, SIDE), overwrite_x=True)
            for agreement, template in zip(agreed, size.templates, strict=True):
                for _ in range(2):
                    row, column = divmod(int(agreement.argmax()), SIDE)
                    shift = np.array([column, row], np.float64)
                    shift[shift > SIDE / 2] -= (
                        SIDE  # the correlation is cyclic; the plan's middle lies in the picture or near it
                    )
                    found.append((float(agreement[row, column]), template, shift + (SIDE - 1) / 2))
                    agreement[max(0, row - 4) : row + 5, max(0, column - 4) : column + 5] = -1
        return found

    def _alike(self, one: _Template, at: Floats, other: _Template, there: Floats) -> bool:
        turn = abs((one.roll_deg - other.roll_deg + 180) % 360 - 180)
        size = abs(np.log(one.px_per_mm / other.px_per_mm))
        near = np.linalg.norm(at - there) < 0.06 * other.px_per_mm * max(self._layout.plan_size_mm)
        return bool(turn < 15 and size < 0.2 and near)

    def _candidate(
        self, score: float, template: _Template, at: Floats, reduction: float, size: tuple[int, int]
    ) -> Candidate:
        there = (at + 0.5) / reduction - 0.5
        scale = template.px_per_mm / reduction
        camera = from_similarity(size, template.roll_deg, scale, there, self._layout.middle_mm)
        return Candidate(replace(camera), score)


def halves(spectrum: Field) -> tuple[Field, Field]:
    """Half a spectrum and the conjugate of the other half turned onto it, half each.

    The sum of the products of two spectra's halves is the spectrum of the real part of their correlation.
    """
    other = np.roll(spectrum[::-1, ::-1], 1, axis=(0, 1)).conj()
    wide = SIDE // 2 + 1
    half = np.float32(np.sqrt(0.5))
    return np.asarray(half * spectrum[:, :wide], np.complex64), np.asarray(
        half * other[:, :wide], np.complex64
    )
