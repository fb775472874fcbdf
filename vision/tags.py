"""Finds printed 36h11 tags and turns them into measured points of the plan.

OpenCV's 36h11 pictures are the AprilTag originals turned by 180 degrees: a tag printed from either set
carries the same id and opposite corners. Which way a frame was printed shows only from two tags together;
one lone tag is taken to be printed as OpenCV draws it. What decodes and what does not (light spread over the
black, blur, a smear) is recognised by its cells (`tag_patterns`) and laid in place whole (`tag_alignment`).
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from vision.camera import Camera
from vision.layout import Layout, TagPlan
from vision.tag_alignment import align, seek
from vision.tag_patterns import is_as_expected, recognise

Floats = npt.NDArray[np.float64]
Grey = npt.NDArray[np.uint8]

# Pictures above this are searched at a reduced size first, and that suffices where it finds this many tags.
_LARGE_PX, _REDUCED_PX, _ENOUGH = 1700, 1200, 4
# A tag is looked for this far around where a camera puts it, if it is at least so wide.
_REACH_CELLS, _LEAST_PX = 8.0, 12.0


@dataclass(frozen=True)
class FoundTag:
    """One tag of the layout: its corners in pixels, clockwise from its own upper left."""

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


def find_tags(grey: Grey, layout: Layout, *, thorough: bool = False) -> tuple[tuple[FoundTag, ...], int]:
    """Find the layout's tags; also count squares that show one of them mirrored.

    Tags that the layout does not name are ignored, and so is a number seen at two places: then nothing says
    which one is ours.
    """
    if not layout.tags:
        return (), 0
    if not thorough and max(grey.shape) > _LARGE_PX:
        found, mirrored = _found(grey, _on_reduced(grey), layout)
        if len(found) >= min(_ENOUGH, len(layout.tags)):
            return found, mirrored
    corners, ids, rejected = _detector(thorough).detectMarkers(grey)
    return _found(grey, (_numbers(ids), corners, rejected), layout)


def look_again(
    grey: Grey, layout: Layout, camera: Camera, found: tuple[FoundTag, ...]
) -> tuple[FoundTag, ...]:
    """Look for the tags not found yet where a camera puts them, up to a tag's width away; all that are found then."""
    numbers, values = [tag.id for tag in layout.tags], grey.astype(np.float32)
    known, more = {tag.plan.id for tag in found}, []
    for tag in layout.tags:
        if tag.id in known:
            continue
        expected = camera.project(corners_mm(tag))
        if not _in_view(expected, grey.shape):
            continue
        corners = seek(values, expected, tag.id, _REACH_CELLS)
        if corners is not None and is_as_expected(grey, corners, tag.id, numbers):
            more.append(FoundTag(tag, corners))
    return (*found, *more)


def _in_view(corners: Floats, shape: tuple[int, ...]) -> bool:
    """Say whether a tag's middle lies in the picture, seen from its face, and large enough to tell its cells."""
    x, y = corners.mean(axis=0)
    a, b = corners[1] - corners[0], corners[3] - corners[0]
    area = float(a[0] * b[1] - a[1] * b[0])  # clockwise as pixels count: positive
    return bool(0 <= x < shape[1] and 0 <= y < shape[0] and area > _LEAST_PX**2)


def _numbers(ids: Any) -> list[int]:  # noqa: ANN401 - OpenCV ships no types
    return [] if ids is None else [int(i) for i in np.asarray(ids).ravel()]


def _squares(corners: Any) -> list[Floats]:  # noqa: ANN401 - as above
    return [np.asarray(square, np.float64).reshape(4, 2) for square in corners]


def _found(
    grey: Grey,
    seen: tuple[list[int], Any, Any],
    layout: Layout,
) -> tuple[tuple[FoundTag, ...], int]:
    """Tags of the layout among decoded and undecoded squares, each laid in place by its whole picture."""
    by_id, values = {tag.id: tag for tag in layout.tags}, grey.astype(np.float32)
    decoded, corners, rejected = seen
    places: dict[int, list[Floats]] = {}
    for number, square in zip(decoded, _squares(corners), strict=True):
        if number in by_id:
            laid = align(values, square, number)
            places.setdefault(number, []).append(square if laid is None else laid)
    more, mirrored = recognise(grey, np.asarray(_squares(rejected)).reshape(-1, 4, 2), list(by_id))
    for one in more:
        laid = align(values, one.corners_px, one.number)
        if laid is not None and not any(_same(laid, other) for other in places.get(one.number, [])):
            places.setdefault(one.number, []).append(laid)
    return tuple(FoundTag(by_id[n], at[0]) for n, at in places.items() if len(at) == 1), mirrored


def _same(one: Floats, other: Floats) -> bool:
    """Say whether two squares are the same tag's: its inner and its outer outline, or both passes."""
    side = np.linalg.norm(one[0] - one[2])
    return bool(np.linalg.norm(one.mean(axis=0) - other.mean(axis=0)) < side / 2)


def _on_reduced(grey: Grey) -> tuple[list[int], Any, Any]:
    """Find tags at half the cost on a reduced picture; their corners are refined on all pixels."""
    share = _REDUCED_PX / max(grey.shape)
    small = cv2.resize(grey, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    corners, ids, rejected = _detector(thorough=False).detectMarkers(small)
    settled = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 30, 0.02)
    whole = [((np.asarray(square, np.float32).reshape(4, 1, 2) + 0.5) / share - 0.5) for square in corners]
    large = [cv2.cornerSubPix(grey, one.astype(np.float32), (4, 4), (-1, -1), settled) for one in whole]
    return _numbers(ids), large, [(square + 0.5) / share - 0.5 for square in _squares(rejected)]


def tags_of_any_number(grey: Grey) -> tuple[tuple[int, Floats], ...]:
    """Find every 36h11 tag as (id, corners in pixels (4, 2)); ids seen twice are left out.

    Corners found singly lie inside the black where bright paper has spread over it, and would make a tag small.
    """
    corners, ids, _ = _detector(thorough=True).detectMarkers(grey)
    numbers, values = _numbers(ids), grey.astype(np.float32)
    return tuple(
        (number, square if (laid := align(values, square, number)) is None else laid)
        for number, square in zip(numbers, _squares(corners), strict=True)
        if numbers.count(number) == 1
    )
