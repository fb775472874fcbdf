"""Measures a placed rotor's rims on the photo: where its middle is, how large they are."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vision.camera import Camera
from vision.circles import find, view
from vision.edges import Outlines, support
from vision.layout import RotorPlan
from vision.outlines import circle
from vision.patch import Patch

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

# A rotor is moved onto its circles within this: a careful finger places a centre to a millimetre.
SNAP_MM = 1.5
# Circle coherence from which the circles are believed to be the rotor's own (the reader asks for the same).
CIRCLES_SEEN = 1.2
# What a shift costs in their coherence, a square millimetre: feet of drums and shadows draw circles of their own.
_FAR_COST = 0.15
# A rim is looked for within this of where it was placed, and believed the less the further off: a finger places a
# radius to a third of a millimetre, and shadows draw rims of their own.
_RIM_REACH_MM, _RIM_SIGMA_MM = 0.8, 0.35


@dataclass(frozen=True)
class Rims:
    """What was measured at one placed rotor.

    Attributes
    ----------
    coherence : float
        Of both circles, 0 to 2.
    shift_mm : (2,) array
        From where the rotor was placed to where its circles lie; zero where none are seen.
    disc_mm, drum_mm : float or None
        Radii of both rims; None where the rim does not stand out.

    """

    coherence: float
    shift_mm: Floats
    disc_mm: float | None
    drum_mm: float | None

    @property
    def seen(self) -> bool:
        """Whether the circles were found where the rotor was placed."""
        return self.coherence >= CIRCLES_SEEN


def plan_of(camera: Camera, pixels: Floats, z_mm: float) -> Floats:
    """Where the rays of pixels (n, 2) meet the height `z_mm`: plan points (n, 2), mm. The camera's k1 must be 0."""
    rays = np.column_stack([(pixels - camera.centre) / camera.f_px, np.ones(len(pixels))]) @ camera.rotation
    eye = -camera.rotation.T @ camera.tvec
    reach = (z_mm - eye[2]) / rays[:, 2]
    return np.asarray(eye[:2] + reach[:, None] * rays[:, :2])


def measure_rims(pixels: Pixels, camera: Camera, rotor: RotorPlan) -> Rims:
    """Find a rotor's circles near where it was placed, and the radius at which each rim is clearest."""
    seen = view(pixels, camera, rotor, SNAP_MM)
    plainest = find(seen, SNAP_MM).score
    if plainest < CIRCLES_SEEN:
        return Rims(plainest, np.zeros(2), None, None)
    shift_mm = find(seen, SNAP_MM, _FAR_COST).shift_mm
    disc, drum = (_radius(patch, radius, shift_mm) for patch, radius, _ in seen.rims())
    return Rims(plainest, shift_mm, disc, drum)


def _radius(patch: Patch, placed_mm: float, shift_mm: Floats) -> float | None:
    radii = placed_mm + np.arange(-_RIM_REACH_MM, _RIM_REACH_MM + 1e-9, 0.1)
    figures = []
    for radius in radii:
        rim = circle(float(radius))
        found = support(patch, Outlines(rim.points + shift_mm, rim.normals))
        figures.append(float((found.coherence * np.sqrt(found.strength) * found.seen).mean()))
    figure = np.array(figures) * np.exp(-(((radii - placed_mm) / _RIM_SIGMA_MM) ** 2) / 2)
    best = int(figure.argmax())
    if not 0 < best < len(radii) - 1:
        return None
    weight = np.maximum(figure - 0.9 * figure[best], 0.0)
    return float((radii * weight).sum() / weight.sum())
