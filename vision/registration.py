"""Finds the switch in a photo: by its tags where they are, by its own structure where they are not.

1. Three tags or more: their corners give a camera, and place the rotors to a tenth of a millimetre.
2. One or two tags: the search by structure begins at the camera they give, and their corners count in it.
3. No tag: the whole photo is searched by structure.
4. Where that finds nothing to believe, the mirrored photo is tried: a front camera mirrors what it takes.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt

from vision.camera import Camera, fit, focal_prior_px
from vision.circles import Circles, view
from vision.evidence import Method
from vision.landmarks import Landmarks
from vision.layout import Layout
from vision.lookalikes import Move, margin, moves
from vision.photo import decode
from vision.placement import CORNER_SIGMA_PX, Corners, Placed, in_view, settle
from vision.quality import BLUR_NAMED, DARK_LIGHTNESS, quality_of
from vision.reasons import Reason
from vision.structure import Candidate, Structure, borne_out
from vision.tags import FoundTag, corners_mm, find_tags

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

# Residual of the corners' fit beyond which tags and layout do not belong together (or a tag was misread).
TAG_RMS_MOST_PX = 4.0
# Agreement by which the photo must fit better as it is than moved or mirrored. Right photos reach 0.07 to
# 0.22; mirrored ones stay under 0.03.
MARGIN_LEAST = 0.05


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
        tags = self._tags(pixels)
        if len(tags) < 3 and self._reads_mirrored(pixels, tags):
            return NotFound(Reason.MIRRORED.about())
        by_tags = self._by_tags(pixels, tags) if tags else None
        if by_tags is not None:
            return by_tags
        if self._structure is None:
            return NotFound(Reason.NO_REFERENCE.about())
        return self._by_structure(self._structure, pixels, tags)

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

    def _tags(self, pixels: Pixels) -> tuple[FoundTag, ...]:
        if not self._layout.tags:
            return ()
        grey = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY), np.uint8)
        tags, _ = find_tags(grey, self._layout)
        if len(tags) < 3:
            more, _ = find_tags(grey, self._layout, thorough=True)
            tags = more if len(more) > len(tags) else tags
        return tags

    def _reads_mirrored(self, pixels: Pixels, tags: tuple[FoundTag, ...]) -> bool:
        """Say whether more tags decode in the mirrored photo: no 36h11 tag is another's mirror image."""
        if not self._layout.tags:
            return False
        grey = np.asarray(cv2.cvtColor(_mirrored(pixels), cv2.COLOR_BGR2GRAY), np.uint8)
        found, _ = find_tags(grey, self._layout)
        return len(found) > len(tags)

    def _by_tags(self, pixels: Pixels, tags: tuple[FoundTag, ...]) -> Registration | None:
        corners = Corners(
            np.concatenate([corners_mm(tag.plan) for tag in tags]),
            np.concatenate([tag.corners_px for tag in tags]),
            np.full(4 * len(tags), CORNER_SIGMA_PX),
        )
        size = (pixels.shape[1], pixels.shape[0])
        fitted = [
            fit(start, corners.plan, corners.pixels, sigma_px=0.7, focal_prior_px=focal_prior_px(*size))
            for start in cameras_from(corners, size)
        ]
        fitted = [one for one in fitted if one.rms_px < TAG_RMS_MOST_PX]
        if not fitted:
            return None
        cameras = [one.camera for one in sorted(fitted, key=lambda one: one.rms_px)]
        if len(tags) >= 3:
            # Three tags that fit the layout hold the place by themselves: a dark disc on a dark drum shows no circles.
            placed = settle(pixels, cameras[0], self._layout, corners, (1.5,))
            return _registration(placed, "tags", tags)
        if self._structure is not None:
            near = self._structure.near(pixels, cameras, corners)
            found = near.placed if near.believed or borne_out(near.placed) else None
        else:
            tried = [settle(pixels, c, self._layout, corners, (3.0, 1.5, 1.0)) for c in cameras]
            best = max(tried, key=lambda placed: placed.score(self._layout))
            found = best if borne_out(best) else None
        return _registration(found, "tags and structure", tags) if found else None

    def _by_structure(
        self, structure: Structure, pixels: Pixels, tags: tuple[FoundTag, ...]
    ) -> Registration | NotFound:
        best = structure.search(pixels)
        if best is None:
            return NotFound(Reason.NOT_FOUND.about())
        if best.believed:
            found = _registration(best.placed, "structure", tags)
            return replace(found, way_up_known=False, confirmed=best.confirmed)
        if self._seen_mirrored(structure, pixels):
            return NotFound(Reason.MIRRORED.about())
        return NotFound(self._why_not(pixels, best).about())

    def _seen_mirrored(self, structure: Structure, pixels: Pixels) -> bool:
        """Say whether the switch is found in the mirrored photo, and told from its own mirror image there."""
        there = _mirrored(pixels)
        found = structure.search(there)
        if found is None or not found.believed:
            return False
        others = self.undecided(there, found.placed.camera, found.confirmed)
        return not any(move.mirrored for move in others)

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


def _registration(placed: Placed, method: Method, tags: tuple[FoundTag, ...]) -> Registration:
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
