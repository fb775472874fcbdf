"""The picture by which an eye checks a new layout: every placed thing drawn back onto the photo it was placed on."""

import textwrap

import cv2
import numpy as np
import numpy.typing as npt

from vision.circles import drum_face_mm
from vision.layout import Point, RotorPlan
from vision.layout_making import MadeLayout, MadeRotor
from vision.lettering import INK, Box, Sheet

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

LIGHT, DARK, DOUBT = (242, 239, 230), INK, (110, 67, 0)  # red, green, blue
_WIDTH_LEAST = 1100
_RULER_MM = 50.0


def layout_picture(made: MadeLayout) -> bytes:
    """Draw discs, drums, finger axes, marks, tags, the plan's border and a ruler; returns a JPEG."""
    pixels = made.photo.pixels
    zoom = max(1.0, _WIDTH_LEAST / max(pixels.shape[:2]))
    if zoom > 1:
        pixels = np.asarray(
            cv2.resize(pixels, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_CUBIC), np.uint8
        )
    drawing = _Drawing(Sheet(pixels), made, zoom)
    drawing.everything()
    coded = cv2.imencode(".jpg", drawing.picture(), [cv2.IMWRITE_JPEG_QUALITY, 88])[1]
    return bytes(coded)


class _Drawing:
    def __init__(self, sheet: Sheet, made: MadeLayout, zoom: float) -> None:
        self._sheet, self._made, self._zoom = sheet, made, zoom

    def everything(self) -> None:
        """Draw it all, words last."""
        layout, (width, height) = self._made.layout, self._made.layout.plan_size_mm
        self._outline(np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64), 0.0, DARK, 1)
        words: list[tuple[list[str], Box, tuple[int, int, int]]] = []
        for rotor, met in zip(layout.rotors, self._made.rotors, strict=True):
            colour = DARK if met.seen else DOUBT
            self._rotor(rotor, colour)
            words.append((_lines(rotor, met), self._bounds(rotor), colour))
        for mark in layout.way_up_marks:
            at = self._outline(_square(mark.centre_mm, mark.size_mm), mark.z_mm, DARK, 2)
            words.append(([mark.kind], _box(at), DARK))
        for tag in layout.tags:
            at = self._outline(_square(tag.centre_mm, (tag.size_mm, tag.size_mm)), tag.z_mm, DARK, 2)
            words.append(([f"tag {tag.id}"], _box(at), DARK))
        boxes = [own for _, own, _ in words]
        for lines, own, rule in words:
            boxes.append(self._sheet.note(lines, own, boxes, rule))
        self._ruler(boxes)
        told = [self._made.way_up.in_words(), *self._made.warnings()]
        title = f"layout {layout.id}  |  {width:g} x {height:g} mm  |  up is the plan's +y"
        self._sheet.strip([title, *(line for text in told for line in textwrap.wrap(text, 110))])

    def picture(self) -> Pixels:
        """Return what was drawn."""
        return self._sheet.picture()

    def _at(self, flat: Floats, z_mm: float) -> Floats:
        points = np.column_stack([flat, np.full(len(flat), z_mm)])
        return (self._made.camera.project(points) + 0.5) * self._zoom - 0.5

    def _outline(self, flat: Floats, z_mm: float, colour: tuple[int, int, int], width: int) -> Floats:
        at = self._at(flat, z_mm)
        self._sheet.polygon(at, LIGHT, width + 2)
        self._sheet.polygon(at, colour, width)
        return at

    def _rotor(self, rotor: RotorPlan, colour: tuple[int, int, int]) -> None:
        turn = np.linspace(0, 2 * np.pi, 73)[:-1]
        ring = np.column_stack([np.cos(turn), np.sin(turn)])
        centre, low = np.array(rotor.centre_mm), drum_face_mm(rotor)
        self._outline(centre + rotor.upper_disc_radius_mm * ring, 0.0, colour, 2)
        self._outline(centre + rotor.drum_radius_mm * ring, low, colour, 2)
        axis = np.radians(rotor.finger_axis_deg)
        along = np.array([np.cos(axis), np.sin(axis)])
        steps = np.linspace(-1, 1, 25)[:, None] * (rotor.drum_radius_mm + 9.0)
        self._sheet.dashes(self._at(centre + steps * along, low), LIGHT, DARK)
        for cross in (np.array([[-2.0, 0], [2, 0]]), np.array([[0.0, -2], [0, 2]])):
            ends = self._at(centre + cross, 0.0)
            self._sheet.line(ends[0], ends[1], LIGHT, 4)
            self._sheet.line(ends[0], ends[1], colour, 2)

    def _bounds(self, rotor: RotorPlan) -> Box:
        reach = (rotor.drum_radius_mm + 2.0) * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        return _box(self._at(np.array(rotor.centre_mm) + reach, 0.0))

    def _ruler(self, taken: list[Box]) -> None:
        ends = self._at(np.array([[2.0, 2.0], [2.0 + _RULER_MM, 2.0]]), 0.0)
        for colour, thick in ((LIGHT, 6), (DARK, 3)):
            self._sheet.line(ends[0], ends[1], colour, thick)
        self._sheet.note([f"{_RULER_MM:g} mm on the discs' faces"], _box(ends), taken, DARK)


def _box(at: Floats) -> Box:
    return Box(*at.min(axis=0), *at.max(axis=0))


def _square(centre: Point, size: Point) -> Floats:
    signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    return np.asarray(np.array(centre) + np.array(size) / 2 * signs)


def _lines(rotor: RotorPlan, met: MadeRotor) -> list[str]:
    radii = f"disc {rotor.upper_disc_radius_mm:.1f}, drum {rotor.drum_radius_mm:.1f} mm"
    snapped = f"moved {met.moved_mm:.1f} mm onto its circles" if met.seen else "no circles seen here"
    return [f"{rotor.id}: fingers at {rotor.finger_axis_deg:.0f}°", radii, snapped]
