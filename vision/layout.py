"""The switch layout: geometry of one switch type in plan view, checked before anything is measured with it.

Plan coordinates are millimetres, x right, y up, origin at the lower left corner; z = 0 is the face of the
upper discs and grows towards the camera. Angles are degrees from the x axis, counter-clockwise, modulo 180.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

AlongMeans = Literal["closed", "open"]
Point = tuple[float, float]


@dataclass(frozen=True)
class ContactPlan:
    """One contact of a bar; `along_means` is its state when the bar lies along the finger axis."""

    id: str
    along_means: AlongMeans


@dataclass(frozen=True)
class BarPlan:
    """One bar: length and width of its top face, and the height `z_mm` of that face."""

    id: Literal["upper", "lower"]
    length_mm: float
    width_mm: float
    z_mm: float
    contacts: tuple[ContactPlan, ...]


@dataclass(frozen=True)
class RotorPlan:
    """One rotor: a drum seen end-on with its disc, its two crossed bars and the axis of its fingers."""

    id: str
    centre_mm: Point
    drum_radius_mm: float
    upper_disc_radius_mm: float
    finger_axis_deg: float
    upper: BarPlan
    lower: BarPlan

    @property
    def bars(self) -> tuple[BarPlan, BarPlan]:
        """Both bars, the upper first."""
        return (self.upper, self.lower)


@dataclass(frozen=True)
class TagPlan:
    """One square 36h11 tag: middle, edge of the black square, height; upright when +y is up."""

    id: int
    centre_mm: Point
    size_mm: float
    z_mm: float


@dataclass(frozen=True)
class WayUpMark:
    """A fixed thing that tells which way up the switch is seen."""

    kind: str
    centre_mm: Point
    size_mm: Point
    z_mm: float


@dataclass(frozen=True)
class AngleBand:
    """Along up to `along_within_deg` off the finger axis, across from `across_from_deg` on, else between."""

    along_within_deg: float = 12.0
    across_from_deg: float = 78.0


@dataclass(frozen=True)
class Reference:
    """A photo of the switch from straight above, and how its pixels follow from plan points at z = 0."""

    photo: bytes = field(repr=False)
    plan_to_px: npt.NDArray[np.float64]


@dataclass(frozen=True)
class Layout:
    """One switch layout, checked; `fingerprint` is the SHA-256 of the file it came from."""

    id: str
    plan_size_mm: Point
    rotors: tuple[RotorPlan, ...]
    nearly_symmetric: bool
    way_up_marks: tuple[WayUpMark, ...]
    tags: tuple[TagPlan, ...]
    angle_band: AngleBand
    reference: Reference | None
    fingerprint: str

    def rotor(self, rotor_id: str) -> RotorPlan:
        """Find a rotor by its id; raises KeyError."""
        return next(rotor for rotor in self.rotors if rotor.id == rotor_id)

    @property
    def middle_mm(self) -> npt.NDArray[np.float64]:
        """Middle of the plan at z = 0."""
        return np.array([self.plan_size_mm[0] / 2, self.plan_size_mm[1] / 2, 0.0])

    def contact_bars(self) -> Mapping[str, tuple[str, str, AlongMeans]]:
        """Map each contact id to its rotor, its bar and what along means for it."""
        return {
            contact.id: (rotor.id, bar.id, contact.along_means)
            for rotor in self.rotors
            for bar in rotor.bars
            for contact in bar.contacts
        }


def fingerprint_of(text: bytes) -> str:
    """SHA-256 of a layout file's bytes, hexadecimal."""
    return hashlib.sha256(text).hexdigest()
