"""What is looked for when no tag tells the place: each rotor's circles and finger blocks, and way-up marks.

Each landmark is a template of edge directions (`search.edge_field`) on a rectified patch, at the height
where it lies. Circles follow from the layout's figures; finger blocks and marks are cut from the reference
photo. The finger blocks matter: three circles alone fit any affine view of them.
"""

from dataclasses import dataclass
from functools import lru_cache

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

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]
Field = npt.NDArray[np.complex64]

PX_PER_MM = 2.0
SIDE = 128  # pixels of a patch, 64 mm: a drum, its fingers and half a finger block of room to search
_HALF = SIDE // 2 - 1
FINGER_MM = 5.5  # from the drum's rim outwards to the middle of a finger block
FINGER_WEIGHT = (
    0.7  # against 1 for a circle: blocks look alike, wires cover them, heights differ by a few millimetres
)
MARK_WEIGHT = 1.0
_CLOSE_MM = 1.0  # a landmark is in its place within this


@dataclass(frozen=True)
class Landmark:
    """One thing to find: its place in the plan (mm, with height) and in its patch, its template's spectrum.

    `kind` is ring, finger or mark; `owner` the rotor it belongs to, or the mark's number.
    """

    kind: str
    owner: str
    plan: Floats
    offset_mm: Floats
    spectrum: Field
    weight: float


@dataclass(frozen=True)
class Spot:
    """Landmarks that share one patch: its middle in the plan and its height."""

    centre_mm: Floats
    z_mm: float
    landmarks: tuple[Landmark, ...]


@dataclass(frozen=True)
class AgreementMap:
    """How well one landmark agrees over its patch; how pixels near it become millimetres of plan."""

    landmark: Landmark
    agreement: npt.NDArray[np.float32]
    at_px: Floats
    mm_per_px: Floats


@dataclass(frozen=True)
class Found:
    """A landmark's best agreement nearby and in its place, the pixel of the best, whether it is a peak."""

    landmark: Landmark
    agreement: float
    in_place: float
    at_px: Floats
    peak: bool


class Landmarks:
    """All landmarks of a layout, at any softness."""

    def __init__(self, layout: Layout, reference: Photo) -> None:
        self._layout = layout
        assert layout.reference is not None  # noqa: S101 - only the reader of a searchable layout builds these
        scale = np.diag([1 / reference.scale, 1 / reference.scale, 1.0])
        self._plan_to_px = scale @ layout.reference.plan_to_px
        self._reference = cv2.GaussianBlur(reference.pixels, (0, 0), 1.2)
        columns, rows = np.meshgrid(np.arange(-_HALF, _HALF + 1), np.arange(-_HALF, _HALF + 1))
        self._x, self._y = columns / PX_PER_MM, -rows / PX_PER_MM
        self._radius = np.hypot(self._x, self._y)
        self.spots = lru_cache(maxsize=8)(self._spots)

    def _spots(self, softness_mm: float) -> tuple[Spot, ...]:
        spots = [spot for rotor in self._layout.rotors for spot in self._rotor(rotor, softness_mm)]
        return tuple(
            spots + [self._mark(i, mark, softness_mm) for i, mark in enumerate(self._layout.way_up_marks)]
        )

    def _rotor(self, rotor: RotorPlan, softness_mm: float) -> list[Spot]:
        centre, axis = np.array(rotor.centre_mm), np.radians(rotor.finger_axis_deg)
        low = drum_face_mm(rotor)
        disc = self._landmark(
            ("ring", rotor.id),
            centre,
            0.0,
            np.zeros(2),
            self._ring(rotor.upper_disc_radius_mm, softness_mm),
            1.0,
        )
        below = [
            self._landmark(
                ("ring", rotor.id),
                centre,
                low,
                np.zeros(2),
                self._ring(rotor.drum_radius_mm, softness_mm),
                1.0,
            )
        ]
        for side in (1.0, -1.0):
            offset = side * np.array([np.cos(axis), np.sin(axis)]) * (rotor.drum_radius_mm + FINGER_MM)
            block = self._cut(centre + offset, self._radius < FINGER_MM + 1, softness_mm)
            below.append(self._landmark(("finger", rotor.id), centre, low, offset, block, FINGER_WEIGHT))
        return [Spot(centre, 0.0, (disc,)), Spot(centre, low, tuple(below))]

    def _mark(self, number: int, mark: WayUpMark, softness_mm: float) -> Spot:
        centre = np.array(mark.centre_mm)
        box = (abs(self._x) < mark.size_mm[0] / 2 + 2) & (abs(self._y) < mark.size_mm[1] / 2 + 2)
        template = self._cut(centre, box, softness_mm)
        found = self._landmark(("mark", str(number)), centre, mark.z_mm, np.zeros(2), template, MARK_WEIGHT)
        return Spot(centre, mark.z_mm, (found,))

    def _ring(self, radius_mm: float, softness_mm: float) -> Field:
        weight = np.exp(-(((self._radius - radius_mm) / softness_mm) ** 2) / 2)
        angle = np.arctan2(self._y, self._x)
        return np.asarray(
            weight / weight.sum() * np.exp(-2j * angle), np.complex64
        )  # rows run down: angles change sign

    def _cut(self, centre: Floats, mask: npt.NDArray[np.bool_], softness_mm: float) -> Field:
        plan = np.stack([self._x + centre[0], self._y + centre[1]], axis=-1).reshape(-1, 1, 2)
        at = cv2.perspectiveTransform(plan, self._plan_to_px).reshape(*self._x.shape, 2).astype(np.float32)
        field = _field(
            np.asarray(cv2.remap(self._reference, at[..., 0], at[..., 1], cv2.INTER_LINEAR), np.uint8)
        )
        field = field * mask
        sigma = softness_mm * PX_PER_MM * 0.7
        soft = cv2.GaussianBlur(field.real, (0, 0), sigma) + 1j * cv2.GaussianBlur(field.imag, (0, 0), sigma)
        return np.asarray(soft / (np.abs(soft).sum() + 1e-9), np.complex64)

    def _landmark(  # noqa: PLR0913 - a landmark's parts are each named
        self,
        name: tuple[str, str],
        centre: Floats,
        z_mm: float,
        offset: Floats,
        template: Field,
        weight: float,
    ) -> Landmark:
        padded: Field = np.zeros((SIDE, SIDE), np.complex64)
        padded[: template.shape[0], : template.shape[1]] = template
        spectrum = scipy.fft.fft2(np.roll(padded, (-_HALF, -_HALF), (0, 1))).conj()
        return Landmark(
            *name, np.append(centre + offset, z_mm), offset, np.asarray(spectrum, np.complex64), weight
        )

    def total_weight(self) -> float:
        """Sum of all weights: the score that perfect agreement everywhere would reach."""
        return sum(mark.weight for spot in self.spots(1.0) for mark in spot.landmarks)

    def maps(
        self, pixels: Pixels, camera: Camera, softness_mm: float, spread_px: float
    ) -> list[AgreementMap]:
        """Agreement of every landmark in view; `spread_px` widens the peaks for a wide search."""
        found = []
        for spot in self.spots(softness_mm):
            middle = camera.project(np.append(spot.centre_mm, spot.z_mm)[None])[0]
            if not (0 <= middle[0] < pixels.shape[1] and 0 <= middle[1] < pixels.shape[0]):
                continue
            spectrum = _spectrum(pixels, camera, spot)
            for mark in spot.landmarks:
                agreement = scipy.fft.ifft2(spectrum * mark.spectrum).real.astype(np.float32)
                soft = cv2.GaussianBlur(agreement, (0, 0), spread_px)
                found.append(AgreementMap(mark, np.asarray(soft, np.float32), *_locally(camera, mark.plan)))
        return found

    def nearby(self, pixels: Pixels, camera: Camera, reach_mm: float = 2.0) -> list[Found]:
        """Best agreement of each landmark in view near where the camera puts it, and its pixel there."""
        axis = np.arange(-reach_mm, reach_mm + 0.1, 0.5)
        steps = np.stack(np.meshgrid(axis, axis), axis=-1).reshape(-1, 2)
        close = np.abs(steps).max(axis=1) <= _CLOSE_MM
        found = []
        for one in self.maps(pixels, camera, 0.7, 0.8):
            rows, columns = cell_of(steps, one.landmark.offset_mm)
            values = one.agreement[rows, columns]
            best = int(values.argmax())
            at = one.at_px + np.linalg.solve(one.mm_per_px, steps[best])
            peak = bool(abs(steps[best]).max() < reach_mm - 0.1)
            found.append(Found(one.landmark, float(values[best]), float(values[close].max()), at, peak))
        return found

    def score(self, found: list[Found]) -> float:
        """Weighted mean agreement at the landmarks' places; those out of view count nothing."""
        return sum(one.landmark.weight * one.in_place for one in found) / self.total_weight()


def cell_of(at_mm: Floats, offset_mm: Floats) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Row and column in an agreement map of places given in millimetres from the predicted place."""
    columns = np.rint(_HALF + (offset_mm[0] + at_mm[..., 0]) * PX_PER_MM)
    rows = np.rint(_HALF - (offset_mm[1] + at_mm[..., 1]) * PX_PER_MM)
    last = SIDE - 2
    return np.clip(rows, 0, last).astype(np.intp), np.clip(columns, 0, last).astype(np.intp)


def _field(picture: Pixels) -> Field:
    return edge_field(np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.8), np.uint8))


def _spectrum(pixels: Pixels, camera: Camera, spot: Spot) -> Field:
    mx, my = sampling_maps(camera, spot.centre_mm, spot.z_mm, _HALF / PX_PER_MM, PX_PER_MM)
    inside = (mx >= 0) & (my >= 0) & (mx <= pixels.shape[1] - 1) & (my <= pixels.shape[0] - 1)
    flat = cv2.remap(pixels, mx, my, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    padded: Field = np.zeros((SIDE, SIDE), np.complex64)
    padded[: flat.shape[0], : flat.shape[1]] = _field(np.asarray(flat, np.uint8)) * inside
    return np.asarray(scipy.fft.fft2(padded), np.complex64)


def _locally(camera: Camera, plan: Floats) -> tuple[Floats, Floats]:
    """Pixel of a plan point, and the 2 x 2 matrix from pixels to millimetres around it."""
    at = camera.project(np.array([plan, plan + np.array([0.5, 0, 0]), plan + np.array([0, 0.5, 0])]))
    px_per_mm = np.column_stack([at[1] - at[0], at[2] - at[0]]) / 0.5
    return at[0], np.asarray(np.linalg.inv(px_per_mm), np.float64)
