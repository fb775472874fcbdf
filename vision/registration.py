"""Finds the switch in a photo: by its tags where they are, by its own structure where they are not.

1. Tags: decoded corners give a camera; three tags place the rotors to a tenth of a millimetre.
2. One or two tags: the camera they give is moved until the switch's landmarks agree.
3. No tag: the whole plan is searched for as a template, the best places are aligned by landmarks.
4. Whatever the start: one camera is fitted to corners and rims together, and is believed only where circles
bear it out.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt

from vision.align import MIDDLE, NARROW, WIDE, Aligned, Reach, align, tilted
from vision.camera import Camera, fit, focal_prior_px
from vision.circles import Circles
from vision.landmarks import Found, Landmarks
from vision.layout import Layout
from vision.lookalikes import Move
from vision.photo import decode
from vision.placement import CORNER_SIGMA_PX, NO_CORNERS, Corners, Placed, settle
from vision.reasons import Reason
from vision.search import Finder
from vision.tags import FoundTag, corners_mm, find_tags

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

# Residual of the corners' fit beyond which tags and layout do not belong together (or a tag was misread).
TAG_RMS_MOST_PX = 4.0
# Mean circle coherence over the rotors in view under which the switch was not found. Right places reach 1.3
# and more.
FOUND_SCORE = 1.2
# Figure of merit of a settled camera: mean agreement of landmarks (0 to 1) and a tenth of the mean circle
# coherence (0 to 2). Right places mostly reach 0.31, wrong ones 0.29 at most. Below it the search goes on
# with steeper starts.
MERIT_SURE, CIRCLE_SHARE = 0.305, 0.1
# Mean agreement under which nothing was found.
AGREEMENT_LEAST = 0.08
# Mean agreement of finger blocks alone: rightly placed photos of other units and lamps reach 0.06 and more, half of the
# wrongly placed ones stay below. It keeps out foreign parts with round things on them.
FINGERS_LEAST = 0.05
# Agreement of the whole plan's template under which a photo shows no edges to speak of (a wall, a black frame); right
# places reach 4 and more.
TEMPLATE_LEAST = 2.0
# A finger block or mark counts as a measured point from this agreement on. Blocks differ in height and make
# by a millimetre or two; marks are fixed and their heights known.
POINT_AGREEMENT = 0.12
_POINT_REACH_MM = 2.5
POINT_SIGMA_MM = {"finger": 1.2, "mark": 0.6}
_CANDIDATES = 10
_STEEP = 0.5  # radian: tilt of the extra starts for steep photos


@dataclass(frozen=True)
class Registration:
    """Where the switch lies in the photo.

    Attributes
    ----------
    method : str
        "tags", "tags and structure" or "structure".
    way_up_known : bool
        True where a tag tells which way up the switch is seen.

    """

    camera: Camera
    method: str
    rms_px: float
    circles: dict[str, Circles]
    way_up_known: bool
    tags_found: int


@dataclass(frozen=True)
class _Candidate:
    """A settled camera and how well all landmarks agree under it."""

    placed: Placed
    agreement: float

    @property
    def merit(self) -> float:
        """How well landmarks and circles bear this camera out together."""
        scores = [circles.score for circles in self.placed.circles.values()]
        return self.agreement + CIRCLE_SHARE * (float(np.mean(scores)) if scores else 0.0)


@dataclass(frozen=True)
class NotFound:
    """The switch was not found; `reason` says why in words."""

    reason: str


class Registrar:
    """Finds one layout in photos. The search without tags is prepared on its first use."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout

    @cached_property
    def _finder(self) -> Finder:
        return Finder(self._layout)

    @cached_property
    def landmarks(self) -> Landmarks:
        """Landmarks of the layout, prepared on first use."""
        assert self._layout.reference is not None  # noqa: S101 - callers ask `searchable` first
        return Landmarks(self._layout, decode(self._layout.reference.photo))

    def prepare(self) -> None:
        """Build the templates of the search now, where the layout can be searched for."""
        if self.searchable:
            _ = self._finder, self.landmarks.spots(1.0)

    @property
    def searchable(self) -> bool:
        """True where the layout has a reference photo to search with."""
        return self._layout.reference is not None

    def register(self, pixels: Pixels) -> Registration | NotFound:
        """Find the switch in an upright photo."""
        tags = self._tags(pixels)
        if tags:
            by_tags = self._by_tags(pixels, tags)
            if by_tags is not None:
                return by_tags
        if not self.searchable:
            return NotFound(Reason.NO_REFERENCE.about())
        return self._by_structure(pixels, tags)

    def moved(self, pixels: Pixels, found: Registration, move: Move) -> Registration | None:
        """Lay the plan as a move of it would lie, and settle it there; None where it does not fit."""
        placed = self._placed(pixels, found.camera.turned(move.matrix)).placed
        if not self._borne_out(placed):
            return None
        return replace(found, camera=placed.camera, rms_px=placed.rms_px, circles=placed.circles)

    def _tags(self, pixels: Pixels) -> tuple[FoundTag, ...]:
        if not self._layout.tags:
            return ()
        grey = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY), np.uint8)
        tags, _ = find_tags(grey, self._layout)
        if len(tags) < 3:
            more, _ = find_tags(grey, self._layout, thorough=True)
            tags = more if len(more) > len(tags) else tags
        return tags

    def _by_tags(self, pixels: Pixels, tags: tuple[FoundTag, ...]) -> Registration | None:
        corners = Corners(
            np.concatenate([corners_mm(tag.plan) for tag in tags]),
            np.concatenate([tag.corners_px for tag in tags]),
            np.full(4 * len(tags), CORNER_SIGMA_PX),
        )
        size = (pixels.shape[1], pixels.shape[0])
        cameras = [
            fit(start, corners.plan, corners.pixels, sigma_px=0.7, focal_prior_px=focal_prior_px(*size))
            for start in cameras_from(corners, size)
        ]
        cameras = [fitted for fitted in cameras if fitted.rms_px < TAG_RMS_MOST_PX]
        if not cameras:
            return None
        method = "tags"
        if len(tags) >= 3:
            best = min(cameras, key=lambda fitted: fitted.rms_px)
            placed = settle(pixels, best.camera, self._layout, corners, (1.5,))
        else:
            method = "tags and structure"
            placed = self._from_few(pixels, [fitted.camera for fitted in cameras], corners, len(tags))
        # Three tags that fit the layout hold the place by themselves: a dark disc on a dark drum shows no circles.
        if len(tags) < 3 and not self._borne_out(placed):
            return None
        return Registration(
            placed.camera,
            method,
            placed.rms_px,
            placed.circles,
            way_up_known=True,
            tags_found=len(tags),
        )

    def _from_few(self, pixels: Pixels, cameras: list[Camera], corners: Corners, count: int) -> Placed:
        starts = cameras
        if self.searchable:
            reach = MIDDLE if count == 2 else WIDE
            starts = self._narrowed(pixels, [self._align(pixels, camera, reach) for camera in cameras])
            return max(
                (self._placed(pixels, start, corners) for start in starts[:2]), key=lambda c: c.merit
            ).placed
        placed = [settle(pixels, start, self._layout, corners, (3.0, 1.5, 1.0)) for start in starts[:2]]
        return max(placed, key=lambda p: p.score(self._layout))

    def _by_structure(self, pixels: Pixels, tags: tuple[FoundTag, ...]) -> Registration | NotFound:
        candidates = self._finder.candidates(pixels, _CANDIDATES)
        if not candidates or candidates[0].score < TEMPLATE_LEAST:
            return NotFound(Reason.NOT_FOUND.about())
        starts = [c.camera for c in candidates]
        best = self._best_placed(pixels, self._aligned(pixels, starts))
        if best.merit < MERIT_SURE:
            directions = np.radians(np.arange(0, 360, 60))
            middle = self._layout.middle_mm
            steep = [
                tilted(camera, middle, _STEEP, direction) for camera in starts[:3] for direction in directions
            ]
            best = max(best, self._best_placed(pixels, self._aligned(pixels, steep)), key=lambda c: c.merit)
            best = self._polished(pixels, best)
        placed = best.placed
        known = best.agreement >= AGREEMENT_LEAST and self._fingers(pixels, placed.camera) >= FINGERS_LEAST
        if not self._borne_out(placed) or not known:
            return NotFound(Reason.NOT_FOUND.about())
        return Registration(
            placed.camera,
            "structure",
            placed.rms_px,
            placed.circles,
            way_up_known=False,
            tags_found=len(tags),
        )

    def _best_placed(self, pixels: Pixels, aligned: list[Aligned]) -> "_Candidate":
        first = self._placed(pixels, aligned[0].camera)
        if first.merit >= MERIT_SURE:
            return first
        return max([first, *(self._placed(pixels, a.camera) for a in aligned[1:2])], key=lambda c: c.merit)

    def _placed(self, pixels: Pixels, start: Camera, corners: Corners = NO_CORNERS) -> "_Candidate":
        """Settle a start on rims, fingers, marks and tag corners together; the step with the most merit is kept.

        A rotor whose rims are hidden may catch another circle and pull; landmarks then agree less than the
        step before.
        """
        found = self.landmarks.nearby(pixels, start, _POINT_REACH_MM)
        camera, steps = start, []
        for reach in (1.5, 1.0, 0.8):
            placed = settle(
                pixels,
                camera,
                self._layout,
                corners.with_more(_points(found, camera)),
                (reach,),
                tilt_sigma=0.5,
            )
            camera = placed.camera
            found = self.landmarks.nearby(pixels, camera, _POINT_REACH_MM)
            steps.append(_Candidate(placed, self.landmarks.score(found)))
        return max(steps, key=lambda step: step.merit)

    def _polished(self, pixels: Pixels, best: "_Candidate") -> "_Candidate":
        """Search around a settled camera again with other draws, where it has too little merit yet."""
        for seed in (1, 2, 3):
            if best.merit >= MERIT_SURE:
                break
            wide = align(pixels, best.placed.camera, self.landmarks, self._layout.middle_mm, MIDDLE, seed)
            best = max(
                best,
                self._placed(pixels, self._align(pixels, wide.camera, NARROW).camera),
                key=lambda c: c.merit,
            )
        return best

    def _fingers(self, pixels: Pixels, camera: Camera) -> float:
        """Mean agreement of all finger blocks in view."""
        found = [o for o in self.landmarks.nearby(pixels, camera, 1.0) if o.landmark.kind == "finger"]
        return float(np.mean([o.in_place for o in found])) if found else 0.0

    def _align(self, pixels: Pixels, start: Camera, reach: Reach) -> Aligned:
        return align(pixels, start, self.landmarks, self._layout.middle_mm, reach)

    def _aligned(self, pixels: Pixels, starts: list[Camera]) -> list[Aligned]:
        wide = sorted((self._align(pixels, start, WIDE) for start in starts), key=lambda a: -a.score)
        middle = sorted((self._align(pixels, a.camera, MIDDLE) for a in wide[:5]), key=lambda a: -a.score)
        narrow = [self._align(pixels, a.camera, NARROW) for a in middle[:3]]
        return sorted(narrow, key=lambda a: -a.score)

    def _narrowed(self, pixels: Pixels, aligned: list[Aligned]) -> list[Camera]:
        ordered = sorted(aligned, key=lambda a: -a.score)
        return [self._align(pixels, a.camera, NARROW).camera for a in ordered]

    def _borne_out(self, placed: Placed) -> bool:
        scores = [c.score for c in placed.circles.values()]
        return bool(scores) and float(np.median(scores)) >= FOUND_SCORE


def _points(found: list[Found], camera: Camera) -> Corners:
    """Finger blocks and marks that stand out near their places, as loosely known points."""
    used = [o for o in found if o.landmark.kind != "ring" and o.peak and o.agreement >= POINT_AGREEMENT]
    if not used:
        return NO_CORNERS
    scales = [camera.px_per_mm(o.landmark.plan) for o in used]
    sigmas = np.array(
        [POINT_SIGMA_MM[o.landmark.kind] * scale for o, scale in zip(used, scales, strict=True)]
    )
    return Corners(np.array([o.landmark.plan for o in used]), np.array([o.at_px for o in used]), sigmas)


def cameras_from(corners: Corners, size: tuple[int, int]) -> list[Camera]:
    """Both poses that explain coplanar points about equally well (a plane under small tilt has two)."""
    f = focal_prior_px(*size)
    centre = np.array([(size[0] - 1) / 2, (size[1] - 1) / 2])
    matrix = np.array([[f, 0, centre[0]], [0, f, centre[1]], [0, 0, 1]])
    lift = np.array([0.0, 0.0, corners.plan[:, 2].mean()])
    _, turns, places, _ = cv2.solvePnPGeneric(
        corners.plan * [1, 1, 0], corners.pixels, matrix, None, flags=cv2.SOLVEPNP_IPPE
    )
    found = []
    for rvec, tvec in zip(turns, places, strict=True):
        camera = Camera(
            f, 0.0, centre, np.asarray(rvec, np.float64).ravel(), np.asarray(tvec, np.float64).ravel()
        )
        found.append(replace(camera, tvec=camera.tvec - camera.rotation @ lift))
    return found
