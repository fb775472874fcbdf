"""Finds the switch in a photo: by its tags where they are, by its own structure where they are not.

1. Three tags or more: their corners give a camera, and place the rotors to a tenth of a millimetre.
2. One or two tags: the search by structure begins at the camera they give, and their corners count in it.
3. No tag: the whole photo is searched by structure.
4. Where that finds nothing to believe, or nothing that is plainly the switch, the mirrored photo is tried: a front
   camera mirrors what it takes.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt

from vision.camera import Camera, fit, focal_prior_px
from vision.candidate import Candidate, borne_out
from vision.circles import Circles, view
from vision.evidence import Method
from vision.landmarks import Landmarks
from vision.layout import Layout
from vision.lookalikes import Move, margin, moves
from vision.photo import decode
from vision.placement import CORNER_SIGMA_PX, Corners, Placed, in_view, settle
from vision.quality import BLUR_NAMED, DARK_LIGHTNESS, quality_of
from vision.reasons import Reason
from vision.structure import Structure
from vision.tags import FoundTag, corners_mm, find_tags, look_again

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]
Grey = npt.NDArray[np.uint8]
Tags = tuple[FoundTag, ...]

# Tags that hold the place by themselves; and from how many on they fix tilt and lens to where rotors need nothing else.
TAGS_HOLD, TAGS_FIX = 3, 4
# So far (standard deviation, in shares of the plan's shorter side) such tags must lie apart in every direction: a row
# leaves the tilt across it loose.
_SPREAD_LEAST = 0.15
# Residual of the corners' fit beyond which tags and layout do not belong together (or a tag was misread).
TAG_RMS_MOST_PX = 4.0
# Agreement by which the photo must fit better as it is than moved or mirrored. Right photos reach 0.07 to
# 0.22; mirrored ones stay under 0.03.
MARGIN_LEAST = 0.05
# Where evidence is neither weak nor plain, a tilt may have made a mirrored plan fit: the mirrored photo must then give
# less evidence by this, of such right photos mostly 0.11 to 0.21. Or it gives less, and its place fits mirrored as well
# as it is, while the photo's own place is told from its mirror image: a mirrored photo would show it the other way.
MIRRORED_LESS = 0.05


@dataclass(frozen=True)
class Registration:
    """Where the switch lies in the photo.

    Attributes
    ----------
    method : str
        "tags", "tags and structure" or "structure".
    way_up_known : bool
        True where a tag tells which way up the switch is seen.
    confirmed : tuple of str
        Rotors whose own circles or finger blocks bear their place out; empty where three tags hold it.

    """

    camera: Camera
    method: Method
    rms_px: float
    circles: dict[str, Circles]
    way_up_known: bool
    tags_found: int
    confirmed: tuple[str, ...] = ()


@dataclass(frozen=True)
class NotFound:
    """The switch was not found; `reason` says why in words."""

    reason: str


class Registrar:
    """Finds one layout in photos. The search without tags is prepared on its first use."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._structure = Structure(layout) if layout.reference is not None else None

    @cached_property
    def landmarks(self) -> Landmarks:
        """Landmarks of the layout, prepared on first use."""
        assert self._layout.reference is not None  # noqa: S101 - asked only for what was found by structure
        return Landmarks(self._layout, decode(self._layout.reference.photo))

    def prepare(self) -> None:
        """Build the templates of the search now, where the layout can be searched for."""
        if self._structure is not None:
            self._structure.prepare()
            _ = self.landmarks.spots

    def register(self, pixels: Pixels) -> Registration | NotFound:
        """Find the switch in an upright photo."""
        grey = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY), np.uint8)
        tags, mirrored = self._tags(grey)
        if mirrored > len(tags):
            return NotFound(Reason.MIRRORED.about())
        by_tags = self._by_tags(pixels, grey, tags) if tags else None
        if by_tags is not None:
            return by_tags
        if self._structure is None:
            return NotFound(Reason.NO_REFERENCE.about())
        return self._by_structure(self._structure, pixels, grey, tags)

    def moved(self, pixels: Pixels, found: Registration, move: Move) -> Registration | None:
        """Lay the plan as a move of it would lie, and settle it there; None where it does not fit."""
        if self._structure is None:
            return None
        there = self._structure.at(pixels, found.camera.turned(move.matrix))
        if not borne_out(there.placed):
            return None
        placed = there.placed
        return replace(
            found,
            camera=placed.camera,
            rms_px=placed.rms_px,
            circles=placed.circles,
            confirmed=there.confirmed,
        )

    def _tags(self, grey: Grey) -> tuple[Tags, int]:
        """Find the layout's tags, and count those that are seen mirrored: no 36h11 tag is another's mirror image."""
        tags, mirrored = find_tags(grey, self._layout)
        if len(tags) < min(TAGS_HOLD, len(self._layout.tags)) and mirrored <= len(tags):
            more, mirrored = find_tags(grey, self._layout, thorough=True)
            tags = more if len(more) > len(tags) else tags
        return _as_printed(tags, (grey.shape[1], grey.shape[0])), mirrored

    def _by_tags(self, pixels: Pixels, grey: Grey, tags: Tags) -> Registration | None:
        size = (pixels.shape[1], pixels.shape[0])
        cameras = _fitted(tags, size)
        if not cameras:
            return None
        if len(tags) < len(self._layout.tags):
            tags, cameras = self._with_more(grey, tags, cameras)
        if len(tags) >= TAGS_HOLD:
            # Three tags that fit the layout hold the place by themselves: a dark disc on a dark drum shows no circles.
            return self._held(pixels, cameras[0], tags)
        if self._structure is not None:
            return self._by_both(self._structure.near(pixels, cameras, _corners(tags)), pixels, grey, tags)
        tried = [settle(pixels, c, self._layout, _corners(tags), (3.0, 1.5, 1.0)) for c in cameras]
        best = max(tried, key=lambda placed: placed.score(self._layout))
        return _registration(best, "tags and structure", tags) if borne_out(best) else None

    def _held(self, pixels: Pixels, camera: Camera, tags: Tags) -> Registration:
        """Settle a camera that tags hold: four that fit need nothing else, three leave tilt and lens loose.

        Where the corners do not all fit, the photo is no whole picture of a lens (a part was cut off): rotors are then
        looked for further around.
        """
        corners = _corners(tags)
        off = np.linalg.norm(camera.project(corners.plan) - corners.pixels, axis=1)
        rms_px = float(np.sqrt((off**2).mean()))
        fitting = rms_px < TAG_RMS_MOST_PX
        if fitting and len(tags) >= TAGS_FIX and self._surrounded(tags):
            return _registration(Placed(camera, {}, rms_px), "tags", tags)
        reaches = (1.5, 0.8) if fitting else (3.0, 1.5, 0.8)
        return _registration(settle(pixels, camera, self._layout, corners, reaches), "tags", tags)

    def _surrounded(self, tags: Tags) -> bool:
        """Say whether tags lie all around the plan, not in a row."""
        middles = np.array([tag.plan.centre_mm for tag in tags])
        least = float(np.linalg.svd(middles - middles.mean(axis=0), compute_uv=False)[-1]) / len(tags) ** 0.5
        return bool(least >= _SPREAD_LEAST * min(self._layout.plan_size_mm))

    def _with_more(self, grey: Grey, tags: Tags, cameras: list[Camera]) -> tuple[Tags, list[Camera]]:
        """Look for the other tags where those found put them; keep what fits together."""
        size = (grey.shape[1], grey.shape[0])
        tried = [look_again(grey, self._layout, camera, tags) for camera in cameras]
        for more in sorted(tried, key=len, reverse=True):
            fitted = _fitted(more, size) if len(more) > len(tags) else []
            if fitted:
                return more, fitted
        return tags, cameras

    def _by_both(self, found: Candidate, pixels: Pixels, grey: Grey, tags: Tags) -> Registration | None:
        """Settle a place found by structure on the tags that are seen from it, too; None where nothing bears it out."""
        assert self._structure is not None  # noqa: S101 - it found the place
        more = look_again(grey, self._layout, found.placed.camera, tags)
        if len(more) > len(tags):
            fitted = _fitted(more, (pixels.shape[1], pixels.shape[0]))
            if fitted and len(more) >= TAGS_HOLD:
                return self._held(pixels, fitted[0], more)
            if fitted:
                found, tags = self._structure.at(pixels, found.placed.camera, _corners(more)), more
        if not tags or not (found.believed or borne_out(found.placed)):
            return None
        return _registration(found.placed, "tags and structure", tags)

    def _by_structure(
        self, structure: Structure, pixels: Pixels, grey: Grey, tags: Tags
    ) -> Registration | NotFound:
        best = structure.search(pixels)
        if best is None:
            return NotFound(Reason.NOT_FOUND.about())
        by_both = self._by_both(best, pixels, grey, ())
        if by_both is not None:
            return by_both
        found = replace(
            _registration(best.placed, "structure", tags), way_up_known=False, confirmed=best.confirmed
        )
        if best.plain:
            return found
        there = structure.search(_mirrored(pixels), thorough=False)
        if not best.believed:
            named = there is not None and self._told_mirrored(pixels, there)
            return NotFound((Reason.MIRRORED if named else self._why_not(pixels, best)).about())
        if there is None or there.evidence < best.evidence - MIRRORED_LESS:
            return found
        if there.evidence > best.evidence:
            return NotFound(Reason.MIRRORED.about())
        if self._fits_mirrored(_mirrored(pixels), there) and not self._fits_mirrored(pixels, best):
            return found
        return NotFound(Reason.UNSURE_MIRRORED.about())

    def _told_mirrored(self, pixels: Pixels, there: Candidate) -> bool:
        """Say whether what was found in the mirrored photo is the switch, told from its own mirror image."""
        return there.believed and not self._fits_mirrored(_mirrored(pixels), there)

    def _fits_mirrored(self, pixels: Pixels, found: Candidate) -> bool:
        """Say whether a photo may as well be mirrored as what was found in it."""
        others = self.undecided(pixels, found.placed.camera, found.confirmed)
        return any(move.mirrored for move in others)

    def undecided(self, pixels: Pixels, camera: Camera, confirmed: tuple[str, ...]) -> list[Move]:
        """Ways to lay the plan, other than as found, that the photo does not rule out."""
        return [
            move
            for move in moves(self._layout, list(confirmed))
            if margin(pixels, camera, move, self.landmarks, self._layout) < MARGIN_LEAST
        ]

    def _why_not(self, pixels: Pixels, best: Candidate) -> Reason:
        """Name focus or light as the reason where they are bad at the best place, believed or not."""
        camera, seen = best.placed.camera, []
        for rotor in self._layout.rotors:
            if in_view(pixels, camera, rotor):
                quality = quality_of(view(pixels, camera, rotor, 1.0).disc)
                seen.append((quality.blur_mm / rotor.upper.width_mm, quality.lightness))
        if not seen:
            return Reason.NOT_FOUND
        blur, lightness = np.median(np.array(seen), axis=0)
        if lightness < DARK_LIGHTNESS:
            return Reason.NOT_FOUND_DARK
        return Reason.NOT_FOUND_BLURRED if blur > BLUR_NAMED else Reason.NOT_FOUND


def _corners(tags: Tags) -> Corners:
    return Corners(
        np.concatenate([corners_mm(tag.plan) for tag in tags]),
        np.concatenate([tag.corners_px for tag in tags]),
        np.full(4 * len(tags), CORNER_SIGMA_PX),
    )


def _fitted(tags: Tags, size: tuple[int, int]) -> list[Camera]:
    """Cameras that explain the tags' corners, best first; none where tags and layout do not belong together."""
    corners, prior = _corners(tags), focal_prior_px(*size)
    fitted = [
        fit(start, corners.plan, corners.pixels, sigma_px=0.7, focal_prior_px=prior)
        for start in cameras_from(corners, size)
    ]
    right = [one for one in fitted if one.rms_px < TAG_RMS_MOST_PX]
    return [one.camera for one in sorted(right, key=lambda one: one.rms_px)]


def _as_printed(tags: Tags, size: tuple[int, int]) -> Tags:
    """Turn every tag by 180 degrees where only that fits the layout: frames are printed from either set of pictures."""
    if len(tags) < 2 or _fitted(tags, size):
        return tags
    turned = tuple(replace(tag, corners_px=np.roll(tag.corners_px, 2, axis=0)) for tag in tags)
    return turned if _fitted(turned, size) else tags


def _registration(placed: Placed, method: Method, tags: Tags) -> Registration:
    return Registration(
        placed.camera, method, placed.rms_px, placed.circles, way_up_known=True, tags_found=len(tags)
    )


def _mirrored(pixels: Pixels) -> Pixels:
    return np.ascontiguousarray(pixels[:, ::-1])


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
