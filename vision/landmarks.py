"""What tells one way to lay the plan from another: each rotor's finger blocks, and the layout's way-up marks.

Each landmark is a template of edge directions (`search.edge_field`), cut from the reference photo, and is sought on a
rectified patch at the height where it lies.
"""

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt
import scipy.fft

from vision.camera import Camera
from vision.circles import drum_face_mm
from vision.layout import Layout, RotorPlan, WayUpMark
from vision.patch import sampling_maps
from vision.photo import Photo
from vision.search import edge_field
from vision.sketch import FINGER_MM

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]
Field = npt.NDArray[np.complex64]

PX_PER_MM = 2.0
SIDE = 128  # pixels of a patch, 64 mm: a drum, its fingers and half a finger block of room to search
_HALF = SIDE // 2 - 1
_REACH_MM, _STEP_MM = 2.0, 0.5
_SOFTNESS_MM, _SPREAD_PX = 0.7, 0.8


@dataclass(frozen=True)
class Landmark:
    """One thing to find: its place in the plan (mm, with height) and in its patch, its template's spectrum.

    `kind` is finger or mark.
    """

    kind: str
    plan: Floats
    offset_mm: Floats
    spectrum: Field


@dataclass(frozen=True)
class Spot:
    """Landmarks that share one patch: its middle in the plan and its height."""

    centre_mm: Floats
    z_mm: float
    landmarks: tuple[Landmark, ...]


@dataclass(frozen=True)
class Found:
    """A landmark's best agreement near its place."""

    landmark: Landmark
    agreement: float


class Landmarks:
    """All landmarks of a layout."""

    def __init__(self, layout: Layout, reference: Photo) -> None:
        self._layout = layout
        assert layout.reference is not None  # noqa: S101 - only the reader of a searchable layout builds these
        scale = np.diag([1 / reference.scale, 1 / reference.scale, 1.0])
        self._plan_to_px = scale @ layout.reference.plan_to_px
        self._reference = cv2.GaussianBlur(reference.pixels, (0, 0), 1.2)
        columns, rows = np.meshgrid(np.arange(-_HALF, _HALF + 1), np.arange(-_HALF, _HALF + 1))
        self._x, self._y = columns / PX_PER_MM, -rows / PX_PER_MM
        self._radius = np.hypot(self._x, self._y)

    @cached_property
    def spots(self) -> tuple[Spot, ...]:
        """Every rotor's finger blocks, every mark."""
        rotors = (self._rotor(rotor) for rotor in self._layout.rotors)
        return (*rotors, *(self._mark(mark) for mark in self._layout.way_up_marks))

    def _rotor(self, rotor: RotorPlan) -> Spot:
        centre, axis, low = np.array(rotor.centre_mm), np.radians(rotor.finger_axis_deg), drum_face_mm(rotor)
        blocks = []
        for side in (1.0, -1.0):
            offset = side * np.array([np.cos(axis), np.sin(axis)]) * (rotor.drum_radius_mm + FINGER_MM)
            template = self._cut(centre + offset, self._radius < FINGER_MM + 1)
            blocks.append(Landmark("finger", np.append(centre + offset, low), offset, _spectrum_of(template)))
        return Spot(centre, low, tuple(blocks))

    def _mark(self, mark: WayUpMark) -> Spot:
        centre = np.array(mark.centre_mm)
        box = (abs(self._x) < mark.size_mm[0] / 2 + 2) & (abs(self._y) < mark.size_mm[1] / 2 + 2)
        spectrum = _spectrum_of(self._cut(centre, box))
        found = Landmark("mark", np.append(centre, mark.z_mm), np.zeros(2), spectrum)
        return Spot(centre, mark.z_mm, (found,))

    def _cut(self, centre: Floats, mask: npt.NDArray[np.bool_]) -> Field:
        plan = np.stack([self._x + centre[0], self._y + centre[1]], axis=-1).reshape(-1, 1, 2)
        at = cv2.perspectiveTransform(plan, self._plan_to_px).reshape(*self._x.shape, 2).astype(np.float32)
        field = _field(
            np.asarray(cv2.remap(self._reference, at[..., 0], at[..., 1], cv2.INTER_LINEAR), np.uint8)
        )
        field = field * mask
        sigma = _SOFTNESS_MM * PX_PER_MM * 0.7
        soft = cv2.GaussianBlur(field.real, (0, 0), sigma) + 1j * cv2.GaussianBlur(field.imag, (0, 0), sigma)
        return np.asarray(soft / (np.abs(soft).sum() + 1e-9), np.complex64)

    def nearby(self, pixels: Pixels, camera: Camera) -> list[Found]:
        """Best agreement of each landmark in view within 2 mm of where the camera puts it."""
        axis = np.arange(-_REACH_MM, _REACH_MM + 0.1, _STEP_MM)
        steps = np.stack(np.meshgrid(axis, axis), axis=-1).reshape(-1, 2)
        found = []
        for spot in self.spots:
            middle = camera.project(np.append(spot.centre_mm, spot.z_mm)[None])[0]
            if not (0 <= middle[0] < pixels.shape[1] and 0 <= middle[1] < pixels.shape[0]):
                continue
            spectrum = _spectrum(pixels, camera, spot)
            for mark in spot.landmarks:
                agreement = scipy.fft.ifft2(spectrum * mark.spectrum).real.astype(np.float32)
                soft = np.asarray(cv2.GaussianBlur(agreement, (0, 0), _SPREAD_PX), np.float32)
                found.append(Found(mark, float(soft[_cells(steps, mark.offset_mm)].max())))
        return found


def _cells(at_mm: Floats, offset_mm: Floats) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Row and column in an agreement map of places given in millimetres from the predicted place."""
    columns = np.rint(_HALF + (offset_mm[0] + at_mm[..., 0]) * PX_PER_MM)
    rows = np.rint(_HALF - (offset_mm[1] + at_mm[..., 1]) * PX_PER_MM)
    last = SIDE - 2
    return np.clip(rows, 0, last).astype(np.intp), np.clip(columns, 0, last).astype(np.intp)


def _spectrum_of(template: Field) -> Field:
    padded: Field = np.zeros((SIDE, SIDE), np.complex64)
    padded[: template.shape[0], : template.shape[1]] = template
    return np.asarray(scipy.fft.fft2(np.roll(padded, (-_HALF, -_HALF), (0, 1))).conj(), np.complex64)


def _field(picture: Pixels) -> Field:
    return edge_field(np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.8), np.uint8))


def _spectrum(pixels: Pixels, camera: Camera, spot: Spot) -> Field:
    mx, my = sampling_maps(camera, spot.centre_mm, spot.z_mm, _HALF / PX_PER_MM, PX_PER_MM)
    inside = (mx >= 0) & (my >= 0) & (mx <= pixels.shape[1] - 1) & (my <= pixels.shape[0] - 1)
    flat = cv2.remap(pixels, mx, my, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    padded: Field = np.zeros((SIDE, SIDE), np.complex64)
    padded[: flat.shape[0], : flat.shape[1]] = _field(np.asarray(flat, np.uint8)) * inside
    return np.asarray(scipy.fft.fft2(padded), np.complex64)
