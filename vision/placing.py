"""Brings what was placed on a photo to the plan: the camera from known distances or tags, then every point.

From known distances the camera looks straight down (distances that disagree give a tilt away); from printed tags of
known size it has the tilt that their shapes show. Each pixel goes to the plan at its own height.
"""

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
import scipy.optimize

from vision.camera import FOCAL_LOG_SIGMA, Camera, focal_prior_px, from_similarity
from vision.layout import Point
from vision.photo import Photo
from vision.placed_points import KnownDistance, KnownTags, PlacedPoints, PlacedRotor
from vision.placement import Corners
from vision.refusals import LayoutRefusal
from vision.registration import cameras_from
from vision.rim_measure import Rims, plan_of
from vision.tags import square_corners, tags_of_any_number

Floats = npt.NDArray[np.float64]

# Around the outermost drums, where the plan's corners were not placed: fingers and their wires.
_ROOM_MM = 24.0
_TAG_UPRIGHT_DEG = 12.0
_CORNER_PX = 0.5  # standard deviation of a tag's corner


def refuse_outside(points: PlacedPoints, photo: Photo) -> None:
    """Refuse a point that lies outside the picture, by its name; raises LayoutRefusal."""
    named: list[tuple[str, Point]] = []
    for i, rotor in enumerate(points.rotors):
        at = f"rotors[{i}]"
        named.append((f"{at}.centre_px", rotor.centre_px))
        named += [
            (f"{at}.{what}_rim_px", rim)
            for what, rim in (("disc", rotor.disc), ("drum", rotor.drum))
            if not isinstance(rim, float)
        ]
        named += [(f"{at}.fingers_px", end) for end in rotor.fingers_px]
    for i, mark in enumerate(points.marks):
        named += [(f"way_up_marks[{i}].corners_px", corner) for corner in mark.corners_px]
    if isinstance(points.scale, tuple):
        named += [
            (f"scale[{i}].between_px", end)
            for i, known in enumerate(points.scale)
            for end in (known.from_px, known.to_px)
        ]
    named += [("plan_px", corner) for corner in points.plan_px or ()]
    width, height = photo.shown_size
    for field, (x, y) in named:
        if not (-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5):
            raise LayoutRefusal(
                f"({x:g}, {y:g}) lies outside the picture of {width} x {height} pixels.", field=field
            )


class Placing:
    """Brings placed pixels to the plan; the plan's origin is the lower left corner of what it must hold."""

    def __init__(self, points: PlacedPoints, photo: Photo) -> None:
        self._points, self._photo = points, photo
        self._tags: tuple[tuple[int, Floats], ...] = ()
        self.spread: float | None = None
        if isinstance(points.scale, KnownTags):
            camera = self._by_tags(points.scale)
        else:
            camera = self._by_distances(points.scale)
        low, high = self._extent(camera)
        move = np.eye(4)
        move[:2, 3] = low
        self.camera = camera.turned(move)
        self.size_mm = high - low

    def described(self, photo_name: str, rims: dict[str, Rims] | None = None) -> dict[str, Any]:
        """Lay out the object of the layout's file; `rims` mend what was placed by what was measured."""
        points, met = self._points, rims or {}
        matrix = self._plan_to_shown()
        described: dict[str, Any] = {
            "id": points.id,
            "units": "mm",
            "origin": "lower left corner of the plan, x right, y up",
            "datum": "z = 0 is the face of the upper discs; z counts towards the camera",
            "plan_size_mm": np.round(self.size_mm, 1).tolist(),
            "rotors": [self._rotor(rotor, met.get(rotor.id)) for rotor in points.rotors],
            "nearly_symmetric": False,
            "way_up_marks": [
                self._mark(mark.kind, mark.corners_px, mark.z_mm, f"way_up_marks[{i}].corners_px")
                for i, mark in enumerate(points.marks)
            ],
            "reference_photo": photo_name,
            "reference_homography_plan_to_px": matrix.tolist(),
            "reference_image_size": list(self._photo.shown_size),
        }
        if isinstance(points.scale, KnownTags):
            described["tags"] = self._tag_items(points.scale)
        return described

    def _working(self, at: Point) -> Floats:
        """Pixel of the working picture where a pixel of the shown picture lies."""
        return np.array(at, np.float64) / self._photo.scale

    def plan(self, at: Point, z_mm: float, camera: Camera | None = None) -> Floats:
        """Bring a shown pixel to the plan at a height."""
        return np.asarray(plan_of(camera or self.camera, self._working(at)[None], z_mm)[0])

    def _by_distances(self, distances: tuple[KnownDistance, ...]) -> Camera:
        size = (self._photo.pixels.shape[1], self._photo.pixels.shape[0])
        f = focal_prior_px(*size)
        scales = []
        for known in distances:
            at_height = (
                float(np.hypot(*(self._working(known.to_px) - self._working(known.from_px)))) / known.mm
            )
            scales.append(f / (f / at_height + known.z_mm))
        if len(scales) > 1:
            self.spread = max(scales) / min(scales) - 1
        middle = (np.array(size) - 1) / 2
        return from_similarity(size, self._roll(), float(np.mean(scales)), middle, np.zeros(3))

    def _roll(self) -> float:
        if self._points.up_px is None:
            return 0.0
        (x0, y0), (x1, y1) = self._points.up_px
        return float(np.degrees(np.arctan2(x0 - x1, y0 - y1)))

    def _by_tags(self, known: KnownTags) -> Camera:
        """Fit the pose under which every tag is a square of the known size, upright in the plan."""
        grey = np.asarray(cv2.cvtColor(self._photo.pixels, cv2.COLOR_BGR2GRAY), np.uint8)
        self._tags = tags_of_any_number(grey)
        if not self._tags:
            raise LayoutRefusal("no printed tag of family 36h11 can be read in the photo.", field="scale")
        size = (self._photo.pixels.shape[1], self._photo.pixels.shape[0])
        square = square_corners(known.size_mm)
        lift = np.array([0.0, 0.0, known.z_mm])
        corners = np.stack([corners for _, corners in self._tags])
        first = max(range(len(corners)), key=lambda i: float(cv2.contourArea(corners[i].astype(np.float32))))
        whole = Corners(square + lift, corners[first], np.full(4, 0.5))
        found = [self._squared(start, corners, square + lift, first) for start in cameras_from(whole, size)]
        camera = min(found, key=lambda pair: pair[1])[0]
        if self._points.up_px is not None:
            self._refuse_turned(camera, known.z_mm)
        return camera

    def _refuse_turned(self, camera: Camera, z_mm: float) -> None:
        assert self._points.up_px is not None  # noqa: S101 - asked by the caller
        low, high = (self.plan(end, z_mm, camera) for end in self._points.up_px)
        off = float(np.degrees(np.arctan2(high[0] - low[0], high[1] - low[1])))
        if abs(off) > _TAG_UPRIGHT_DEG:
            raise LayoutRefusal(
                f"differs by {abs(off):.0f} degrees from the tags' own up; leave it out, or mount the frame upright.",
                field="up_px",
            )

    @staticmethod
    def _squared(start: Camera, corners: Floats, square: Floats, first: int) -> tuple[Camera, float]:
        """Pose, and the place of every tag but the first, from all corners; the root mean square is in pixels."""
        places = np.stack([plan_of(start, c.mean(axis=0)[None], square[0, 2])[0] for c in corners])

        def seen(v: Floats) -> Floats:
            camera = replace(start, rvec=v[:3], tvec=v[3:6], f_px=start.f_px * float(np.exp(v[6])))
            at = v[7:].reshape(-1, 2).copy()
            at[first] = 0.0
            plan = square[None] + np.pad(at, ((0, 0), (0, 1)))[:, None]
            off = (camera.project(plan.reshape(-1, 3)) - corners.reshape(-1, 2)).ravel() / _CORNER_PX
            return np.append(off, v[6] / FOCAL_LOG_SIGMA)

        begin = np.concatenate([start.rvec, start.tvec, [0.0], places.ravel()])
        v = scipy.optimize.least_squares(seen, begin, loss="soft_l1").x
        camera = replace(start, rvec=v[:3], tvec=v[3:6], f_px=start.f_px * float(np.exp(v[6])))
        return camera, float(np.sqrt(np.mean(seen(v)[:-1] ** 2)) * _CORNER_PX)

    def _tag_items(self, known: KnownTags) -> dict[str, Any]:
        items = [
            {
                "id": number,
                "centre_mm": np.round(plan_of(self.camera, corners, known.z_mm).mean(axis=0), 2).tolist(),
                "size_mm": known.size_mm,
            }
            for number, corners in self._tags
        ]
        return {"family": "36h11", "z_mm": known.z_mm, "items": sorted(items, key=lambda item: item["id"])}

    def _extent(self, camera: Camera) -> tuple[Floats, Floats]:
        """Lower left and upper right corner of what the plan holds."""
        if self._points.plan_px is not None:
            ends = np.stack([self.plan(corner, 0.0, camera) for corner in self._points.plan_px])
        else:
            reach = np.array([[self._radius(r, "drum", camera) + _ROOM_MM] for r in self._points.rotors])
            centres = np.array([self.plan(r.centre_px, 0.0, camera) for r in self._points.rotors])
            ends = np.concatenate([centres - reach, centres + reach])
        if isinstance(self._points.scale, KnownTags):
            known = self._points.scale
            tags = [plan_of(camera, corners, known.z_mm) for _, corners in self._tags]
            ends = np.concatenate([ends, *tags])
        return ends.min(axis=0), ends.max(axis=0)

    def _radius(self, rotor: PlacedRotor, what: str, camera: Camera | None = None) -> float:
        rim = rotor.disc if what == "disc" else rotor.drum
        if isinstance(rim, float):
            return rim
        centre = self.plan(rotor.centre_px, 0.0, camera)
        height = 0.0 if what == "disc" else rotor.bars["lower"]["z_mm"] - rotor.bars["upper"]["z_mm"]
        return float(np.hypot(*(self.plan(rim, height, camera) - centre)))

    def _rotor(self, rotor: PlacedRotor, rims: Rims | None) -> dict[str, Any]:
        low = rotor.bars["lower"]["z_mm"] - rotor.bars["upper"]["z_mm"]
        one, other = (self.plan(end, low) for end in rotor.fingers_px)
        axis = float(np.degrees(np.arctan2(*(other - one)[::-1])) % 180)
        centre, disc, drum = (
            self.plan(rotor.centre_px, 0.0),
            self._radius(rotor, "disc"),
            self._radius(rotor, "drum"),
        )
        if rims is not None:
            centre = centre + rims.shift_mm
            disc, drum = rims.disc_mm or disc, rims.drum_mm or drum
        return {
            "id": rotor.id,
            "centre_mm": np.round(centre, 2).tolist(),
            "drum_radius_mm": round(drum, 2),
            "upper_disc_radius_mm": round(disc, 2),
            "finger_axis_deg": round(axis, 1),
            "bars": [
                {"id": name, **rotor.bars[name], "contacts": rotor.contacts[name]}
                for name in ("upper", "lower")
            ],
        }

    def _mark(self, kind: str, corners: tuple[Point, Point], z_mm: float, field: str) -> dict[str, Any]:
        one, other = (self.plan(corner, z_mm) for corner in corners)
        size = np.abs(other - one)
        if size.min() < 0.5:
            raise LayoutRefusal("encloses nothing: give two opposite corners.", field=field)
        return {
            "kind": kind,
            "centre_mm": np.round((one + other) / 2, 2).tolist(),
            "size_mm": np.round(size, 2).tolist(),
            "z_mm": z_mm,
        }

    def _plan_to_shown(self) -> Floats:
        """Homography from the plan at z = 0 to shown pixels; the lens bends nothing here."""
        rotation, camera = self.camera.rotation, self.camera
        matrix = np.array([[camera.f_px, 0, camera.centre[0]], [0, camera.f_px, camera.centre[1]], [0, 0, 1]])
        homography = matrix @ np.column_stack([rotation[:, 0], rotation[:, 1], camera.tvec])
        scale = np.diag([self._photo.scale, self._photo.scale, 1.0])
        return np.asarray(scale @ homography / homography[2, 2])
