"""One camera for everything that was measured: tag corners, and pieces of all rotors' circles and bars together.

Each corner and each piece counts singly and robustly, so a curled tag or a hidden stretch of rim costs only
itself.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vision.bar_pieces import bar_pieces
from vision.camera import Camera, fit, focal_prior_px
from vision.circles import Arcs, Circles, RotorView, arcs, find, view
from vision.layout import Layout, RotorPlan

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

# Sigma of a tag corner: half a pixel of refinement and half a pixel of print, glare and blur.
CORNER_SIGMA_PX = 1.0
# Sigma of a piece of rim or of a bar's edge: ribs, chamfers and shadows move it by a quarter of a millimetre. They move
# many pieces of one rotor alike; pieces taken for independent would bend the lens until the rest of the plan is off.
RIM_SIGMA_MM = 0.5
# Sum of both circles' coherence. Where a rotor is, 95 % of the time it is 1.35 and more; at places without
# one the best chance circle stays under 1.26, 95 % of the time. Below this a rotor's rims are not used to
# move the camera.
CIRCLE_SCORE_USED = 1.22
# What a shift of a rotor's circles costs in their coherence: `FAR_COST` a millimetre at the end of the reach, falling
# with its square. Rotors cannot move in the plan: a circle far from where all others put it is another circle.
FAR_COST = 0.08
# A circle that is more than this far out of the picture is not searched for.
INSIDE_NEEDED = 0.6


@dataclass(frozen=True)
class Corners:
    """Measured points with known plan places, one row each: tag corners, or landmarks with larger sigmas."""

    plan: Floats
    pixels: Floats
    sigma_px: Floats

    def __len__(self) -> int:
        return len(self.plan)

    def with_more(self, other: "Corners") -> "Corners":
        """Both lists as one."""
        pairs = ((self.plan, other.plan), (self.pixels, other.pixels), (self.sigma_px, other.sigma_px))
        plan, pixels, sigma = (np.concatenate(pair) for pair in pairs)
        return Corners(plan, pixels, sigma)


NO_CORNERS = Corners(np.zeros((0, 3)), np.zeros((0, 2)), np.zeros(0))


@dataclass(frozen=True)
class Placed:
    """A camera, where each rotor in view was found under it, and the fit's root mean square in pixels."""

    camera: Camera
    circles: dict[str, Circles]
    rms_px: float

    def score(self, layout: Layout) -> float:
        """Mean circle coherence over all rotors of the layout; those out of view count nothing."""
        return sum(c.score for c in self.circles.values()) / len(layout.rotors)


def in_view(pixels: Pixels, camera: Camera, rotor: RotorPlan) -> bool:
    """Say whether a rotor's middle lies in the picture."""
    x, y = camera.project(np.array([[*rotor.centre_mm, 0.0]]))[0]
    return bool(0 <= x < pixels.shape[1] and 0 <= y < pixels.shape[0])


def find_rotors(
    pixels: Pixels, camera: Camera, layout: Layout, reach_mm: float, far_cost: float = 0.0
) -> dict[str, tuple[RotorView, Circles]]:
    """Find the circles of every rotor in view; `far_cost` as in `circles.find`."""
    found = {}
    for rotor in layout.rotors:
        if in_view(pixels, camera, rotor):
            seen = view(pixels, camera, rotor, reach_mm)
            circles = find(seen, reach_mm, far_cost)
            if circles.inside >= INSIDE_NEEDED:
                found[rotor.id] = (seen, circles)
    return found


def settle(  # noqa: PLR0913 - what is seen, where to begin, what binds, how far to look
    pixels: Pixels,
    camera: Camera,
    layout: Layout,
    corners: Corners,
    reaches_mm: tuple[float, ...],
    tilt_sigma: float | None = None,
) -> Placed:
    """Fit the camera to corners, rims and bars, once for each reach, each time from where the last fit led."""
    rms = np.nan
    found: dict[str, tuple[RotorView, Circles]] = {}
    for reach in reaches_mm:
        found = find_rotors(pixels, camera, layout, reach, FAR_COST / reach)
        pieces = [
            (arcs(seen, camera, c.shift_mm), _scale(camera, seen.rotor))
            for seen, c in found.values()
            if c.score >= CIRCLE_SCORE_USED
        ]
        shown = [rotor for rotor in layout.rotors if in_view(pixels, camera, rotor)]
        bars = ((bar_pieces(pixels, camera, rotor, reach), _scale(camera, rotor)) for rotor in shown)
        pieces += [(arc, scale) for arc, scale in bars if len(arc.plan)]
        if not len(corners) and len(pieces) < min(2, len(layout.rotors)):
            break
        size = (pixels.shape[1], pixels.shape[0])
        camera, rms = _fit(camera, corners, [(a, RIM_SIGMA_MM * s) for a, s in pieces], size, tilt_sigma)
    return Placed(camera, {name: circles for name, (_, circles) in found.items()}, rms)


def _scale(camera: Camera, rotor: RotorPlan) -> float:
    return camera.px_per_mm(np.array([*rotor.centre_mm, 0.0]))


def _fit(
    camera: Camera,
    corners: Corners,
    pieces: list[tuple[Arcs, float]],
    size: tuple[int, int],
    tilt_sigma: float | None,
) -> tuple[Camera, float]:
    plan = np.concatenate([corners.plan, *(a.plan for a, _ in pieces)])
    at = np.concatenate([corners.pixels, *(a.pixels for a, _ in pieces)])
    if not len(plan):
        return camera, np.nan
    normals = np.concatenate([np.full((len(corners), 2), np.nan), *(a.normals for a, _ in pieces)])
    rims = [np.full(len(a.plan), sigma_px) for a, sigma_px in pieces]
    sigma = np.concatenate([corners.sigma_px, *rims])
    prior = focal_prior_px(*size)
    fitted = fit(
        camera, plan, at, normals=normals, sigma_px=sigma, focal_prior_px=prior, tilt_sigma=tilt_sigma
    )
    return fitted.camera, fitted.rms_px
