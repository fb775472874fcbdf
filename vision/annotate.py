"""The picture of what was measured: bars outlined, finger axes, results in words beside each rotor.

Words carry the state; outline, dashes and hatching only repeat it, so that the picture reads the same in
grey.
"""

import textwrap

import cv2
import numpy as np
import numpy.typing as npt

from vision.camera import Camera
from vision.layout import BarPlan, Layout, RotorPlan
from vision.lettering import INK, Box, Sheet
from vision.photo import decode
from vision.reading import BarReading, Reading, RotorReading

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

LIGHT, DARK, DOUBT = (242, 239, 230), INK, (110, 67, 0)  # red, green, blue
_JPEG_QUALITY = 88
_WIDTH_LEAST = 1100  # small photos are enlarged, so that words stay readable beside the rotors


def annotate(photo: bytes, reading: Reading, layout: Layout) -> bytes:
    """Draw a reading onto its photo and return it as a JPEG.

    Raises
    ------
    PhotoRefusal
        The photo cannot be decoded (its reading says the same).

    """
    pixels = decode(photo).pixels
    zoom = max(1.0, _WIDTH_LEAST / max(pixels.shape[:2]))
    if zoom > 1:
        pixels = np.asarray(
            cv2.resize(pixels, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_CUBIC), np.uint8
        )
    sheet = Sheet(pixels)
    if reading.camera is not None:
        drawn = _Drawing(sheet, reading.camera, zoom)
        for rotor in reading.rotors:
            drawn.rotor(layout.rotor(rotor.id), rotor)
        drawn.words(layout, reading)
    sheet.strip(_headline(reading))
    coded = cv2.imencode(".jpg", sheet.picture(), [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])[1]
    return bytes(coded)


def _headline(reading: Reading) -> list[str]:
    title = f"{reading.file or 'photo'}  |  layout {reading.layout}  |  {reading.verdict}"
    if reading.verdict == "read":
        title += f", found by {reading.method}"
    return [title, *textwrap.wrap(reading.reason, 110)]


class _Drawing:
    """Draws rotors of one photo; `zoom` is picture pixels a photo pixel."""

    def __init__(self, sheet: Sheet, camera: Camera, zoom: float) -> None:
        self._sheet, self._camera, self._zoom = sheet, camera, zoom

    def _at(self, points: Floats) -> Floats:
        return (self._camera.project(points) + 0.5) * self._zoom - 0.5

    def rotor(self, plan: RotorPlan, found: RotorReading) -> None:
        """Outline the bars that were measured, dash the finger axis; hatch a rotor that was refused."""
        centre = np.array(found.centre_mm or plan.centre_mm)
        self._axis(plan, centre)
        if found.state == "unreadable":
            self._hatched_ring(plan, centre)
        for bar, seen in zip((plan.lower, plan.upper), (found.lower, found.upper), strict=True):
            if seen.angle_deg is not None and seen.state != "unreadable":
                self._outline(self._bar(plan, bar, centre, seen.angle_deg))

    def _bar(self, plan: RotorPlan, bar: BarPlan, centre: Floats, angle_deg: float) -> list[Floats]:
        """Corners of the bar's top face; the lower bar shows as its two ends beside the disc."""
        turn = np.radians(angle_deg)
        along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
        half, side = bar.length_mm / 2, bar.width_mm / 2
        inner = -half if bar.id == "upper" else plan.upper_disc_radius_mm
        spans = [(inner, half)] if bar.id == "upper" else [(inner, half), (-half, -inner)]
        shapes = []
        for low, high in spans:
            flat = np.array(
                [
                    centre + s * along + w * across
                    for s, w in ((low, -side), (high, -side), (high, side), (low, side))
                ]
            )
            shapes.append(np.column_stack([flat, np.full(4, bar.z_mm)]))
        return shapes

    def _outline(self, shapes: list[Floats]) -> None:
        for shape in shapes:
            corners = self._at(shape)
            self._sheet.polygon(corners, LIGHT, 5)
            self._sheet.polygon(corners, DARK, 2)

    def _axis(self, plan: RotorPlan, centre: Floats) -> None:
        axis = np.radians(plan.finger_axis_deg)
        reach = plan.drum_radius_mm + 7.0
        steps = np.linspace(-reach, reach, 25)
        line = np.array([[*(centre + s * np.array([np.cos(axis), np.sin(axis)])), 0.0] for s in steps])
        self._sheet.dashes(self._at(line), LIGHT, DARK)

    def _ring(self, plan: RotorPlan, centre: Floats, radius: float) -> Floats:
        turn = np.linspace(0, 2 * np.pi, 73)
        flat = centre + radius * np.column_stack([np.cos(turn), np.sin(turn)])
        return self._at(np.column_stack([flat, np.full(len(flat), plan.lower.z_mm)]))

    def _hatched_ring(self, plan: RotorPlan, centre: Floats) -> None:
        inner, outer = (self._ring(plan, centre, plan.drum_radius_mm + gap) for gap in (0.5, 3.0))
        for i in range(0, 72, 2):
            self._sheet.line(inner[i], outer[(i + 3) % 72], LIGHT, 4)
            self._sheet.line(inner[i], outer[(i + 3) % 72], DOUBT, 2)
        for ring in (inner, outer):
            self._sheet.polygon(ring, LIGHT, 4)
            self._sheet.polygon(ring, DOUBT, 2)

    def words(self, layout: Layout, reading: Reading) -> None:
        """Put each rotor's result beside it, over no rotor."""
        taken = [self._bounds(layout.rotor(r.id), r) for r in reading.rotors]
        for rotor, own in zip(reading.rotors, taken[: len(reading.rotors)], strict=True):
            rule = DARK if rotor.state == "legal" else DOUBT
            taken.append(self._sheet.note(_lines(rotor), own, taken, rule))

    def _bounds(self, plan: RotorPlan, found: RotorReading) -> Box:
        ring = self._ring(plan, np.array(found.centre_mm or plan.centre_mm), plan.drum_radius_mm + 3.5)
        return Box(*ring.min(axis=0), *ring.max(axis=0))


def _lines(rotor: RotorReading) -> list[str]:
    shown = [bar for bar in rotor.bars if rotor.state != "unreadable" or bar.state != "unreadable"]
    why = textwrap.wrap(rotor.reason, 34) if rotor.state != "legal" else []
    return [f"{rotor.id}: {rotor.state}", *(_bar_line(bar) for bar in shown), *why]


def _bar_line(bar: BarReading) -> str:
    if bar.angle_deg is None or bar.sigma_deg is None or bar.state == "unreadable":
        return f"{bar.bar} bar: {bar.state}"
    return f"{bar.bar} bar: {bar.state}, {bar.angle_deg:.1f}° ± {bar.sigma_deg:.1f}°"
