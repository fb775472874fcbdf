"""Renders a photo of an invented switch with its exact truth.

Layers at their true heights are painted through the camera, from the housing's floor up to what hangs in
front; a phone's pipeline follows. The truth of each bar comes from the same geometry, and what could be seen
of it is counted in pixels. It is a second, simpler way of making pictures than path tracing: light does not
bounce and metal does not mirror; what it gets right is geometry, contrast, occlusion and everything that
happens after the lens.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from vision.canvas import Canvas, box, circle
from vision.circles import drum_face_mm
from vision.layout import BarPlan, Layout, RotorPlan
from vision.phone import develop, jpeg
from vision.scenes import Scene

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

PLATE_MM = -13.0
_FLOOR_MM = -26.0
_FINGER_REACH_MM = 9.0
# Numbers in the picture's record of what was painted last; bars count from _FIRST_BAR.
_ELSE, _FIRST_BAR = 1, 10


@dataclass(frozen=True)
class BarTruth:
    """What is true of one bar in a rendered photo; shares and figures as measured on its pixels."""

    rotor: str
    bar: str
    angle_deg: float
    off_axis_deg: float
    visible: float
    visible_ends: tuple[float, float]
    contrast: float
    clipped: float
    blur_widths: float

    @property
    def readable(self) -> bool:
        """Whether a careful person could tell it, by fixed limits on what was measured."""
        least = 0.45 if self.bar == "upper" else 0.30
        shown = self.visible >= least and (self.bar == "upper" or max(self.visible_ends) >= 0.45)
        drowned = self.clipped > 0.7 and self.contrast < 12
        return shown and self.blur_widths <= 0.75 and self.contrast >= 6 and not drowned

    @property
    def state(self) -> str:
        """Along, across or between, by the usual band of 12 and 78 degrees."""
        return "along" if self.off_axis_deg <= 12 else "across" if self.off_axis_deg >= 78 else "between"


@dataclass(frozen=True)
class Rendered:
    """A photo with its truth."""

    pixels: Pixels
    photo: bytes
    bars: tuple[BarTruth, ...]


def render(scene: Scene) -> Rendered:
    """Render one scene; the same scene gives the same bytes."""
    chance = np.random.default_rng(scene.seed + 17)
    width, height = scene.size
    canvas = Canvas(scene.camera, width, height, scene.light, chance)
    fixed = np.random.default_rng(scene.unit + 5)
    _surroundings(canvas, scene, fixed)
    faces = {}
    for number, rotor in enumerate(scene.layout.rotors):
        faces.update(_rotor(canvas, scene, rotor, _FIRST_BAR + 2 * number, fixed))
    _wires(canvas, scene, fixed)
    if scene.tags:
        _tag_frame(canvas, scene)
    _in_front(canvas, scene, chance)
    _torch(canvas, scene)
    _glare(canvas, scene)
    pixels = develop(canvas.linear, scene.shot, chance)
    bars = tuple(_truth(canvas, scene, pixels, key, number) for key, number in faces.items())
    return Rendered(pixels, jpeg(pixels, scene.shot.quality), bars)


def _surroundings(canvas: Canvas, scene: Scene, fixed: np.random.Generator) -> None:
    look, (width, height) = scene.look, scene.layout.plan_size_mm
    middle = (width / 2, height / 2)
    canvas.linear[:] = (look.housing * 0.5).astype(np.float32)
    canvas.face(box(middle, width * 3, height * 3, 0), _FLOOR_MM, look.housing, number=_ELSE, grain=0.12)
    wall = look.housing * 0.8
    for side in (-1.0, 1.0):
        upright = np.array([middle[0] + side * (width / 2 + 32), middle[1]])
        canvas.block(box(upright, 6, height + 70, 0), _FLOOR_MM, 12, wall, number=_ELSE, grain=0.1)
        level = np.array([middle[0], middle[1] + side * (height / 2 + 32)])
        canvas.block(box(level, width + 70, 6, 0), _FLOOR_MM, 12, wall, number=_ELSE, grain=0.1)
    canvas.block(
        box(middle, width - 4, height - 4, 0), _FLOOR_MM, PLATE_MM, look.plate, number=_ELSE, grain=0.07
    )
    for x in (9.0, width - 9.0):
        for y in (16.0, height - 16.0):
            canvas.block(circle((x, y), 3.2, 20), PLATE_MM, PLATE_MM + 1.5, np.full(3, 0.5), number=_ELSE)
            canvas.face(
                box((x, y), 5.0, 0.9, fixed.uniform(0, 180)), PLATE_MM + 1.5, np.full(3, 0.05), number=_ELSE
            )
    for mark in scene.layout.way_up_marks:
        colour = np.array([0.6, 0.6, 0.55]) if mark.kind == "square_block" else np.array([0.6, 0.5, 0.05])
        shape = (
            box(mark.centre_mm, *mark.size_mm, 0)
            if mark.kind == "square_block"
            else circle(mark.centre_mm, mark.size_mm[0] / 2)
        )
        canvas.block(shape, PLATE_MM, mark.z_mm, colour, number=_ELSE)
        if mark.kind == "ring":
            canvas.face(
                circle(mark.centre_mm, mark.size_mm[0] / 4), mark.z_mm, np.full(3, 0.03), number=_ELSE
            )


def _rotor(
    canvas: Canvas, scene: Scene, rotor: RotorPlan, number: int, fixed: np.random.Generator
) -> dict[tuple[str, str], int]:
    """Paint one rotor from below: drum, lower bar, fingers, disc, upper bar; returns the bars' numbers."""
    look, centre = scene.look, np.array(rotor.centre_mm)
    low = drum_face_mm(rotor)
    canvas.block(circle(centre, rotor.drum_radius_mm, 48), PLATE_MM, low, look.drum, number=_ELSE, grain=0.05)
    canvas.face(
        circle(centre, rotor.drum_radius_mm * 0.93, 48), low, look.drum * 1.06, number=_ELSE, grain=0.05
    )
    lower_turn, upper_turn = scene.lower_deg[rotor.id], scene.upper_deg[rotor.id]
    lower = box(centre, rotor.lower.length_mm, rotor.lower.width_mm, lower_turn)
    canvas.block(lower, low, rotor.lower.z_mm, _metal(scene, look.bar), number=number + 1, grain=0.06)
    _fingers(canvas, scene, rotor, fixed)
    disc = circle(centre, rotor.upper_disc_radius_mm, look.disc_corners, np.radians(upper_turn))
    canvas.block(disc, low, 0.0, look.disc, number=_ELSE, grain=0.05)
    upper = box(centre, rotor.upper.length_mm, rotor.upper.width_mm, upper_turn)
    canvas.block(upper, 0.0, rotor.upper.z_mm, _metal(scene, look.bar), number=number, grain=0.06)
    _screw(canvas, rotor, fixed)
    _grease(canvas, scene, rotor)
    return {(rotor.id, "upper"): number, (rotor.id, "lower"): number + 1}


def _metal(scene: Scene, colour: Floats) -> Floats:
    """Metal is brighter or darker as a whole, by where it happens to mirror."""
    chance = np.random.default_rng(scene.seed + round(1e6 * float(colour.sum())))
    return np.asarray(np.clip(colour * np.exp(scene.look.metal * chance.normal(0, 0.5)), 0.005, 1.4))


def _fingers(canvas: Canvas, scene: Scene, rotor: RotorPlan, fixed: np.random.Generator) -> None:
    axis = np.radians(rotor.finger_axis_deg)
    along, across = np.array([np.cos(axis), np.sin(axis)]), np.array([-np.sin(axis), np.cos(axis)])
    centre, look = np.array(rotor.centre_mm), scene.look
    width = rotor.drum_radius_mm * 0.9
    for side in (-1.0, 1.0):
        block = centre + side * along * (rotor.drum_radius_mm + 2.0 + _FINGER_REACH_MM / 2)
        canvas.block(
            box(block, _FINGER_REACH_MM, width, rotor.finger_axis_deg),
            PLATE_MM,
            -1.5,
            look.block,
            number=_ELSE,
        )
        for lane in (-0.24, 0.24):
            spot = block + across * lane * width
            canvas.block(
                circle(spot + side * along * 1.8, 1.7, 14), -1.5, -0.6, np.full(3, 0.45), number=_ELSE
            )
            canvas.face(
                box(spot + side * along * 1.8, 2.6, 0.5, fixed.uniform(0, 180)),
                -0.6,
                np.full(3, 0.04),
                number=_ELSE,
            )
            tip = centre + across * lane * width * 0.8 + side * along * (rotor.drum_radius_mm - 0.4)
            canvas.block(
                box(tip, 5.0, 1.7, rotor.finger_axis_deg),
                -1.6,
                rotor.lower.z_mm + 1.4,
                look.finger,
                number=_ELSE,
            )


def _screw(canvas: Canvas, rotor: RotorPlan, fixed: np.random.Generator) -> None:
    top, radius = rotor.upper.z_mm, rotor.upper.width_mm * 0.32
    canvas.block(circle(rotor.centre_mm, radius, 20), top, top + 0.8, np.full(3, 0.35), number=_ELSE)
    canvas.face(
        box(rotor.centre_mm, radius * 1.5, 0.6, fixed.uniform(0, 180)),
        top + 0.8,
        np.full(3, 0.03),
        number=_ELSE,
    )


def _grease(canvas: Canvas, scene: Scene, rotor: RotorPlan) -> None:
    for name, bar, amount in scene.spoil.grease:
        if name != rotor.id:
            continue
        chance = np.random.default_rng(scene.seed + 3)
        for plan, turn in (
            (rotor.upper, scene.upper_deg[rotor.id]),
            (rotor.lower, scene.lower_deg[rotor.id]),
        ):
            if bar in (plan.id, "both"):
                _smear(canvas, plan, np.array(rotor.centre_mm), turn, amount, chance)


def _smear(  # noqa: PLR0913 - where, on what, how much, by which chance
    canvas: Canvas, bar: BarPlan, centre: Floats, turn: float, amount: float, chance: np.random.Generator
) -> None:
    axis = np.radians(turn)
    along = np.array([np.cos(axis), np.sin(axis)])
    colour = np.array([0.09, 0.07, 0.035]) * chance.uniform(0.6, 2.0)
    for _ in range(int(18 * amount)):
        spot = (
            centre
            + along * chance.uniform(-0.55, 0.55) * bar.length_mm
            + chance.normal(0, 0.25 * bar.width_mm, 2)
        )
        shape = circle(spot, chance.uniform(0.35, 0.75) * bar.width_mm, 14) + chance.normal(0, 0.35, (14, 2))
        canvas.fill(
            canvas.project(shape, bar.z_mm + 0.1), colour=colour, number=_ELSE, grain=0.15, cover=0.93
        )


def _wires(canvas: Canvas, scene: Scene, fixed: np.random.Generator) -> None:
    for rotor in scene.layout.rotors:
        axis = np.radians(rotor.finger_axis_deg)
        along = np.array([np.cos(axis), np.sin(axis)])
        for side in (-1.0, 1.0):
            if fixed.random() < 0.75:
                start = np.array(rotor.centre_mm) + side * along * (
                    rotor.drum_radius_mm + _FINGER_REACH_MM + 1
                )
                points = _course(fixed, start, side * along, -1.0, scene.layout)
                canvas.strand(points, 1.1, _insulation(fixed), number=_ELSE)


def _insulation(chance: np.random.Generator) -> Floats:
    """Colour of a wire: grey, black or tinted."""
    tint = chance.uniform(0.2, 1.0, 3) if chance.random() < 0.6 else np.ones(3)
    return np.clip(chance.uniform(0.03, 0.45) * tint, 0.02, 1.0)


def _course(
    fixed: np.random.Generator, start: Floats, heading: Floats, z_mm: float, layout: Layout
) -> Floats:
    """Course of a wire: out of its terminal, then bending away towards the rim, sinking to the plate."""
    turn = np.arctan2(heading[1], heading[0])
    bend = fixed.normal(0, 0.015)
    points, spot = [], start.copy()
    for step in range(int(max(layout.plan_size_mm) / 2.5)):
        points.append([*spot, z_mm - min(step * 0.35, 9.0)])
        turn += bend + fixed.normal(0, 0.03)
        spot = spot + 2.5 * np.array([np.cos(turn), np.sin(turn)])
    return np.array(points)


def _tag_frame(canvas: Canvas, scene: Scene) -> None:
    width, height = scene.layout.plan_size_mm
    look = scene.look
    for centre, length, turn in (
        ((width / 2, 6.0), width, 0.0),
        ((width / 2, height - 6.0), width, 0.0),
        ((6.0, height / 2), height, 90.0),
        ((width - 6.0, height / 2), height, 90.0),
    ):
        canvas.block(box(centre, length, 13.0, turn), -2.0, 0.0, look.frame, number=_ELSE, grain=0.04)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    for tag in scene.layout.tags:
        cells = np.asarray(cv2.aruco.generateImageMarker(dictionary, tag.id, 8))
        canvas.face(
            box(tag.centre_mm, tag.size_mm, tag.size_mm, 0),
            tag.z_mm,
            np.full(3, 0.025),
            number=_ELSE,
            grain=0.02,
        )
        step = tag.size_mm / 8
        places = ((np.argwhere(cells)[:, ::-1] - 3.5) * [step, -step]) + tag.centre_mm
        white = (canvas.project(box(place, step, step, 0), tag.z_mm) for place in places)
        canvas.fill(*white, colour=look.frame, number=_ELSE, grain=0.03)


def _in_front(canvas: Canvas, scene: Scene, chance: np.random.Generator) -> None:
    width, height = scene.layout.plan_size_mm
    for _ in range(scene.spoil.wires_in_front):
        turn = chance.uniform(0, np.pi)
        heading = np.array([np.cos(turn), np.sin(turn)])
        target = np.array(scene.layout.rotors[int(chance.integers(len(scene.layout.rotors)))].centre_mm)
        start = target - heading * max(width, height) * 0.7 + chance.normal(0, 5, 2)
        steps = np.linspace(0, max(width, height) * 1.4, 60)
        sway = chance.normal(0, 6) * np.sin(steps / 30 + chance.uniform(0, 6))
        flat = start + steps[:, None] * heading + sway[:, None] * np.array([-heading[1], heading[0]])
        points = np.column_stack([flat, np.full(len(flat), chance.uniform(4, 14))])
        canvas.strand(points, chance.uniform(0.9, 2.2), _insulation(chance), number=_ELSE)
    if scene.spoil.tool is not None:
        rotor = scene.layout.rotor(scene.spoil.tool)
        spot = np.array(rotor.centre_mm) + chance.normal(0, rotor.drum_radius_mm * 0.5, 2)
        shape = box(spot, chance.uniform(30, 90), chance.uniform(7, 22), chance.uniform(0, 180))
        canvas.block(
            shape, 3.0, chance.uniform(5, 10), np.clip(chance.uniform(0, 0.6, 3), 0.02, 1), number=_ELSE
        )


def _torch(canvas: Canvas, scene: Scene) -> None:
    height, width = canvas.painted.shape
    x, y, fall = scene.torch
    columns, rows = np.meshgrid(np.linspace(0, 1, width), np.linspace(0, 1, height))
    r2 = (columns - x) ** 2 + (rows - y) ** 2
    canvas.linear *= (1.15 * np.exp(-fall * 2.2 * r2) + 0.06).astype(np.float32)[:, :, None]


def _glare(canvas: Canvas, scene: Scene) -> None:
    height, width = canvas.painted.shape
    columns, rows = np.meshgrid(np.arange(width), np.arange(height))
    chance = np.random.default_rng(scene.seed + 9)
    for name, strength in scene.spoil.glare:
        rotor = scene.layout.rotor(name)
        at = canvas.project(np.array([rotor.centre_mm]) + chance.normal(0, 4, (1, 2)), 0.0)[0]
        reach = rotor.drum_radius_mm * scene.camera.px_per_mm(np.array([*rotor.centre_mm, 0.0]))
        r2 = ((columns - at[0]) ** 2 + (rows - at[1]) ** 2) / (reach * chance.uniform(0.5, 1.1)) ** 2
        canvas.linear += (strength * np.exp(-r2) + 0.2 * strength * np.exp(-r2 / 6)).astype(np.float32)[
            :, :, None
        ]


def _truth(canvas: Canvas, scene: Scene, pixels: Pixels, key: tuple[str, str], number: int) -> BarTruth:
    rotor = scene.layout.rotor(key[0])
    bar = rotor.upper if key[1] == "upper" else rotor.lower
    angle = (scene.upper_deg if key[1] == "upper" else scene.lower_deg)[rotor.id]
    off = abs((angle - rotor.finger_axis_deg + 90) % 180 - 90)
    shares = [_end(canvas, rotor, bar, angle, number, end) for end in (1.0, -1.0)]
    contrast, clipped = _standing_out(canvas, pixels, bar, rotor, angle, number)
    scale = canvas.camera.px_per_mm(np.array([*rotor.centre_mm, bar.z_mm]))
    blur = scene.shot.blur_px / (bar.width_mm * scale)
    return BarTruth(
        rotor.id, bar.id, angle, float(off), sum(shares) / 2, (shares[0], shares[1]), contrast, clipped, blur
    )


def _end(  # noqa: PLR0913 - one end of one bar, and its number in the record
    canvas: Canvas, rotor: RotorPlan, bar: BarPlan, angle: float, number: int, end: float
) -> float:
    """Share of one end's exposed face that was painted last."""
    turn = np.radians(angle)
    along = np.array([np.cos(turn), np.sin(turn)]) * end
    inner = rotor.upper.width_mm * 0.35 if bar.id == "upper" else rotor.upper_disc_radius_mm
    middle = np.array(rotor.centre_mm) + along * (inner + bar.length_mm / 2) / 2
    outline = canvas.project(box(middle, bar.length_mm / 2 - inner, bar.width_mm, angle), bar.z_mm)
    return _painted_share(canvas, outline, number)


def _painted_share(canvas: Canvas, outline: Floats, number: int) -> float:
    found = canvas.mask(outline)
    if found is None:
        return 0.0
    window, inside = found
    shown = int(((inside > 0.5) & (canvas.painted[window] == number)).sum())
    whole = float(cv2.contourArea(outline.astype(np.float32)))  # what lies out of the picture included
    return min(1.0, shown / max(whole, 1.0))


def _standing_out(  # noqa: PLR0913 - one bar of one picture
    canvas: Canvas, pixels: Pixels, bar: BarPlan, rotor: RotorPlan, angle: float, number: int
) -> tuple[float, float]:
    """Root mean square Lab distance of the bar's pixels from its surround's mean; share at the white end."""
    wide = canvas.mask(
        canvas.project(box(rotor.centre_mm, bar.length_mm, bar.width_mm * 1.9, angle), bar.z_mm)
    )
    if wide is None:
        return 0.0, 0.0
    window, inside = wide
    here = (canvas.painted[window] == number) & (inside > 0.5)
    beside = (inside > 0.5) & ~here
    if here.sum() < 12 or beside.sum() < 12:
        return 0.0, 0.0
    lab = cv2.cvtColor(pixels[window].astype(np.float32) / np.float32(255), cv2.COLOR_BGR2Lab)
    off = lab[here] - lab[beside].mean(axis=0)
    clipped = (pixels[window].max(axis=2) >= 250)[here | beside].mean()
    return float(np.sqrt((off**2).sum(axis=1).mean())), float(clipped)


def layout_with_reference(layout: dict[str, Any], scene: Scene) -> dict[str, Any]:
    """Add the reference entries to a layout's object for a scene seen from straight above."""
    at = scene.camera.project(np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]))
    matrix = np.column_stack([at[1] - at[0], at[2] - at[0], at[0]])
    return {
        **layout,
        "reference_photo": "reference.jpg",
        "reference_homography_plan_to_px": [*matrix.tolist(), [0.0, 0.0, 1.0]],
        "reference_image_size": list(scene.size),
    }
