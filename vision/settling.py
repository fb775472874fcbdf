"""Settles cameras on one photo: one camera for rims, bars, finger blocks and marks together, and the best of several.

Of cameras that a search holds for likely, one that lies a few millimetres off may settle as if it were in place: its
rims are then another rotor's, a shadow's or a foot's. So likely ones are settled side by side, and about the best one
is drawn again.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from vision.align import Edges
from vision.camera import Camera
from vision.candidate import Candidate, candidate_of
from vision.constellation import otherwise, sprung
from vision.layout import Layout
from vision.placement import NO_CORNERS, Corners, settle
from vision.sketch import Nudges, Sketch, nudges

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

# A start is settled so often, and so far is looked for circles and bars each time.
_REACHES_MM = (1.5, 0.8, 0.8)
# A finger block or mark counts as a measured point from this agreement on. Blocks differ in height and make
# by a millimetre or two; marks are fixed and their heights known.
POINT_AGREEMENT = 0.12
POINT_SIGMA_MM = {"finger": 1.2, "mark": 0.6}
_POINT_REACH_MM = 2.5
# Sigma of the sine of the tilt in the fit: rims and blocks of few rotors hold the tilt only loosely.
_TILT_SIGMA = 0.5
# What settling wholly may gain in merit over settling once, and how many are settled wholly.
_GAINED, _WHOLLY = 0.02, 2
# Merit from which a place is not drawn about again, what that may cost at first, and which share of the better one's
# agreement the other of the two tilts must reach.
_PLACED, _LOST, _ALIKE_SHARE = 0.45, 0.01, 0.92
# Settled places are the same within this, at every rotor; starts within this lead to the same place.
_SAME_MM, _SAME_START_MM = 0.4, 0.2


class Settling:
    """What was settled on one photo so far; `tried` holds it, best first."""

    def __init__(self, layout: Layout, sketch: Sketch, few: Sketch, pixels: Pixels, edges: Edges) -> None:
        self._layout, self._sketch, self._few = layout, sketch, few
        self._pixels, self._edges = pixels, edges
        self._middles = np.array([[*rotor.centre_mm, 0.0] for rotor in layout.rotors])
        self._starts: list[Camera] = []
        self.tried: list[Candidate] = []

    @property
    def best(self) -> Candidate:
        """The best of what was settled."""
        return self.tried[0]

    def side_by_side(self, cameras: Sequence[Camera]) -> None:
        """Settle cameras once, and wholly only the best of them and what comes near it."""
        once: list[Candidate] = []
        for camera in cameras:
            if any(self._apart_mm(camera, start) < _SAME_START_MM for start in self._starts):
                continue
            self._starts.append(camera)
            one = self.settled(camera, reaches_mm=_REACHES_MM[:1])
            if all(self._apart_mm(one.placed.camera, other.placed.camera) >= _SAME_MM for other in once):
                once.append(one)
        once.sort(key=lambda one: -one.merit)
        wholly = [one for one in once if one.merit >= once[0].merit - _GAINED][:_WHOLLY]
        self.tried += [self._on(one) for one in wholly] + once[len(wholly) :]
        self.tried.sort(key=lambda one: -one.merit)

    def drawn_again(self, best: Candidate) -> Candidate:
        """Draw once more about where a candidate settled, as it is and tilted to the other side; the best of these.

        Rims that it settled on may be others than the plan's, and a plan seen from afar looks nearly alike tilted
        either way. Left out where it is plainly in place.
        """
        if best.merit >= _PLACED:
            return best
        middle_mm = self._layout.middle_mm
        cameras = (best.placed.camera, otherwise(best.placed.camera, middle_mm))
        drawn = [sprung(camera, self._few, self._edges.fine, middle_mm) for camera in cameras]
        least = _ALIKE_SHARE * max(one.score for one in drawn)
        for one in drawn:
            if one.score >= least:
                best = self._better(best, one.camera)
        return best

    def settled(
        self,
        start: Camera,
        corners: Corners = NO_CORNERS,
        reaches_mm: tuple[float, ...] = _REACHES_MM,
    ) -> Candidate:
        """Settle a start on rims, bars, fingers, marks and tag corners together."""
        camera = start
        for reach in reaches_mm:
            found = nudges(self._sketch, camera, self._edges.fine, _POINT_REACH_MM)
            points = corners.with_more(_points(self._sketch, found, camera))
            placed = settle(self._pixels, camera, self._layout, points, (reach,), tilt_sigma=_TILT_SIGMA)
            camera = placed.camera
        return candidate_of(placed, self._sketch, self._edges)

    def _on(self, candidate: Candidate) -> Candidate:
        return self.settled(candidate.placed.camera, reaches_mm=_REACHES_MM[1:])

    def _better(self, best: Candidate, camera: Camera) -> Candidate:
        """Settle a camera, and give it up where that leads back or to what is worse; the better of both."""
        other = self.settled(camera, reaches_mm=_REACHES_MM[:1])
        apart_mm = self._apart_mm(other.placed.camera, best.placed.camera)
        if other.merit >= best.merit - _LOST and apart_mm >= _SAME_MM:
            other = self._on(other)
        return max(best, other, key=lambda one: one.merit)

    def _apart_mm(self, one: Camera, other: Camera) -> float:
        """How far at most a rotor's middle lies apart under two cameras."""
        apart = np.linalg.norm(one.project(self._middles) - other.project(self._middles), axis=1)
        return float(apart.max() / max(one.px_per_mm(self._layout.middle_mm), 1e-9))


def _points(sketch: Sketch, found: Nudges, camera: Camera) -> Corners:
    """Finger blocks and marks that stand out near their places, as loosely known points."""
    kinds = np.array(sketch.kinds)
    used = (kinds != "ring") & found.peak & (found.agreement >= POINT_AGREEMENT)
    plan = sketch.anchors[used].astype(np.float64)
    sigmas = [
        POINT_SIGMA_MM[kind] * camera.px_per_mm(at)
        for kind, at in zip(kinds[used].tolist(), plan, strict=True)
    ]
    return Corners(plan, found.at_px[used], np.array(sigmas))
