"""Finds printed 36h11 tags and turns them into measured points of the plan.

OpenCV's 36h11 pictures are the AprilTag originals turned by 180 degrees: a tag printed from either set
carries the same id and opposite corners. Which way a frame was printed shows only from two tags together,
so both are tried and the one that fits the layout is kept; one lone tag is taken to be printed as AprilTag
prints it only when nothing else tells.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from vision.layout import Layout, TagPlan

Floats = npt.NDArray[np.float64]

# Pictures above this are searched at a reduced size first, and that suffices where it finds this many tags.
_LARGE_PX, _REDUCED_PX, _ENOUGH = 1700, 1200, 4


@dataclass(frozen=True)
class FoundTag:
    """One decoded tag of the layout: its corners in pixels, clockwise from its own upper left."""

    plan: TagPlan
    corners_px: Floats


def corners_mm(tag: TagPlan) -> Floats:
    """Corners of an upright tag in the plan (4, 3): upper left, upper right, lower right, lower left."""
    return np.asarray(square_corners(tag.size_mm) + np.array([*tag.centre_mm, tag.z_mm]))


def square_corners(size_mm: float) -> Floats:
    """Corners (4, 3) of an upright square around the origin, in the order of a tag's corners."""
    signs = np.array([[-1, 1, 0], [1, 1, 0], [1, -1, 0], [-1, -1, 0]], np.float64)
    return np.asarray(size_mm / 2 * signs)


@lru_cache(maxsize=2)
def _detector(thorough: bool) -> Any:  # noqa: ANN401, FBT001 - OpenCV ships no types; a cached yes or no
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.cornerRefinementWinSize = 4
    if thorough:  # wider threshold windows and smaller tags: three times slower, for photos that need it
        settings.adaptiveThreshWinSizeMax = 53
        settings.adaptiveThreshWinSizeStep = 8
        settings.minMarkerPerimeterRate = 0.02
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return cv2.aruco.ArucoDetector(dictionary, settings)


def find_tags(
    grey: npt.NDArray[np.uint8], layout: Layout, *, thorough: bool = False
) -> tuple[tuple[FoundTag, ...], Floats]:
    """Find the layout's tags; also return squares that looked like tags and did not decode, (n, 4, 2).

    Tags that the layout does not name are ignored, and so is an id seen twice: then nothing says which one
    is ours.
    """
    by_id = {tag.id: tag for tag in layout.tags}
    if not by_id:
        return (), np.zeros((0, 4, 2))
    if not thorough and max(grey.shape) > _LARGE_PX:
        found = _ours(*_on_reduced(grey), by_id)
        if len(found) >= min(_ENOUGH, len(by_id)):
            return found, np.zeros((0, 4, 2))
    corners, ids, rejected = _detector(thorough).detectMarkers(grey)
    squares = np.asarray([np.asarray(s, np.float64).reshape(4, 2) for s in rejected]).reshape(-1, 4, 2)
    return _ours(_numbers(ids), corners, by_id), squares


def _numbers(ids: Any) -> list[int]:  # noqa: ANN401 - OpenCV ships no types
    return [] if ids is None else [int(i) for i in np.asarray(ids).ravel()]


def _ours(numbers: list[int], corners: Any, by_id: dict[int, TagPlan]) -> tuple[FoundTag, ...]:  # noqa: ANN401 - as above
    return tuple(
        FoundTag(by_id[number], np.asarray(square, np.float64).reshape(4, 2))
        for number, square in zip(numbers, corners, strict=True)
        if number in by_id and numbers.count(number) == 1
    )


def _on_reduced(grey: npt.NDArray[np.uint8]) -> tuple[list[int], Any]:
    """Find tags at half the cost on a reduced picture; their corners are refined on all pixels."""
    share = _REDUCED_PX / max(grey.shape)
    small = cv2.resize(grey, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    corners, ids, _ = _detector(thorough=False).detectMarkers(small)
    settled = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 30, 0.02)
    large = [
        cv2.cornerSubPix(
            grey,
            ((np.asarray(square, np.float32).reshape(4, 1, 2) + 0.5) / share - 0.5).astype(np.float32),
            (4, 4),
            (-1, -1),
            settled,
        )
        for square in corners
    ]
    return _numbers(ids), large


def tags_of_any_number(grey: npt.NDArray[np.uint8]) -> tuple[tuple[int, Floats], ...]:
    """Find every 36h11 tag as (id, corners in pixels (4, 2)); ids seen twice are left out."""
    corners, ids, _ = _detector(thorough=True).detectMarkers(grey)
    numbers = _numbers(ids)
    return tuple(
        (number, np.asarray(square, np.float64).reshape(4, 2))
        for number, square in zip(numbers, corners, strict=True)
        if numbers.count(number) == 1
    )
