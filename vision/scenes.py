"""Invents switches and how they are met: layouts, looks, rotor positions, cameras, lamps, dirt and wires.

Everything follows from a seed. The layouts are inventions of this program; they copy nobody's part.
"""

import json
from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from vision.camera import Camera
from vision.canvas import Light
from vision.layout import Layout
from vision.phone import Exposure

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Look:
    """Colours (linear red, green, blue) and shapes of one switch type."""

    plate: Floats
    housing: Floats
    drum: Floats
    disc: Floats
    bar: Floats
    block: Floats
    finger: Floats
    frame: Floats
    disc_corners: int
    metal: float


@dataclass(frozen=True)
class Spoil:
    """What lies in the way or blinds: all optional, in plan millimetres or pixels."""

    wires_in_front: int = 0
    grease: tuple[tuple[str, str, float], ...] = ()  # rotor, bar, share
    tool: str | None = None  # rotor that something lies on
    glare: tuple[tuple[str, float], ...] = ()  # rotor, strength


@dataclass(frozen=True)
class Scene:
    """One photo to be rendered; `upper_deg` and `lower_deg` give each rotor's true bar angles."""

    layout: Layout
    look: Look
    camera: Camera
    size: tuple[int, int]
    light: Light
    shot: Exposure
    upper_deg: dict[str, float]
    lower_deg: dict[str, float]
    unit: int
    tags: bool
    torch: tuple[float, float, float]  # middle in shares of the picture, and how fast it falls off
    seed: int
    spoil: Spoil = field(default_factory=Spoil)


def random_layout(seed: int, rotors: int | None = None, *, marks: bool | None = None) -> dict[str, Any]:
    """Invent one layout, as the object of a layout.json (without reference photo)."""
    chance = np.random.default_rng(seed)
    count = int(rotors or chance.integers(2, 6))
    radius = float(chance.uniform(10.0, 14.5))
    width, height, centres = _placed(chance, count, radius)
    disc = radius * chance.uniform(0.58, 0.68)
    upper_z, lower_z = float(chance.uniform(1.0, 1.9)), float(-chance.uniform(2.0, 3.0))
    sizes = {
        "upper": (radius * 2 * chance.uniform(0.72, 0.84), radius * chance.uniform(0.36, 0.46), upper_z),
        "lower": (radius * 2 * chance.uniform(1.03, 1.1), radius * chance.uniform(0.52, 0.64), lower_z),
    }
    return {
        "id": f"invented-{seed}",
        "plan_size_mm": [width, height],
        "rotors": [_rotor(chance, i, centre, radius, disc, sizes) for i, centre in enumerate(centres)],
        "nearly_symmetric": False,
        "way_up_marks": _marks(chance, width, height, centres, radius) if marks is not False else [],
        "angle_band": {"along_within_deg": 12, "across_from_deg": 78},
        "tags": _frame(chance, width, height, seed),
    }


def _placed(chance: np.random.Generator, count: int, radius: float) -> tuple[float, float, list[Floats]]:
    gap, rim = radius * 2 + 21, radius + 24
    width = float(chance.uniform(1.0, 1.25) * (2 * rim + gap * max(1, int(np.ceil(count / 2)) - 0.4)))
    height = float(chance.uniform(1.0, 1.2) * (2 * rim + (gap if count > 2 else 8)))
    centres: list[Floats] = []
    for attempt in range(20_000):
        if attempt % 2000 == 1999:
            width, height, centres = width * 1.06, height * 1.04, []
        spot = np.array([chance.uniform(rim, width - rim), chance.uniform(rim, height - rim)])
        if all(np.hypot(*(spot - other)) > gap for other in centres):
            centres.append(np.round(spot, 1))
        if len(centres) == count:
            break
    return round(width, 1), round(height, 1), centres


def _rotor(  # noqa: PLR0913 - one rotor's figures, drawn or common to all
    chance: np.random.Generator,
    number: int,
    centre: Floats,
    radius: float,
    disc: float,
    sizes: dict[str, Any],
) -> dict[str, Any]:
    name = f"R{number + 1}"
    bars = []
    for bar in ("upper", "lower"):
        length, width, z = sizes[bar]
        means = "open" if chance.random() < 0.25 else "closed"
        contacts = [{"id": f"{name}-{bar}-1", "along_means": means}]
        bars.append(
            {
                "id": bar,
                "length_mm": round(length, 2),
                "width_mm": round(width, 2),
                "z_mm": round(z, 2),
                "contacts": contacts,
            }
        )
    return {
        "id": name,
        "centre_mm": [float(v) for v in centre],
        "drum_radius_mm": round(radius, 2),
        "upper_disc_radius_mm": round(disc, 2),
        "finger_axis_deg": float(chance.integers(0, 12) * 15),
        "bars": bars,
    }


def _marks(
    chance: np.random.Generator, width: float, height: float, centres: list[Floats], radius: float
) -> list[dict[str, Any]]:
    marks: list[dict[str, Any]] = []
    for _ in range(400):
        spot = np.array([chance.uniform(20, width - 20), chance.uniform(20, height - 20)])
        far = all(np.hypot(*(spot - c)) > radius + 19 for c in centres)
        if far and all(np.hypot(*(spot - m["centre_mm"])) > 20 for m in marks):
            kind = "square_block" if len(marks) % 2 == 0 else "ring"
            size, z = float(chance.uniform(9, 12)), float(-chance.uniform(8, 11))
            marks.append(
                {
                    "kind": kind,
                    "centre_mm": [float(v) for v in np.round(spot, 1)],
                    "size_mm": [size, size],
                    "z_mm": z,
                }
            )
        if len(marks) == 2:
            break
    return marks


def _frame(chance: np.random.Generator, width: float, height: float, seed: int) -> dict[str, Any]:
    inset, size = 6.0, float(chance.uniform(8.0, 9.5))
    places = [(x, y) for y in (inset, height - inset) for x in (inset, width / 2, width - inset)]
    first = (seed * 7) % 500
    items = [
        {"id": first + i, "centre_mm": list(p), "size_mm": size, "z_mm": 0.0} for i, p in enumerate(places)
    ]
    return {"family": "36h11", "z_mm": 0.0, "items": items}


def as_bytes(layout: dict[str, Any]) -> bytes:
    """Encode a layout's object as its file."""
    return json.dumps(layout, indent=1).encode()


def random_look(seed: int) -> Look:
    """Invent the colours of one switch type; pale on pale and dark on dark occur."""
    chance = np.random.default_rng(seed + 1)

    def tint(low: float, high: float, colourful: float) -> Floats:
        grey = chance.uniform(low, high)
        return np.clip(grey * (1 + colourful * chance.normal(size=3)), 0.01, 0.95)

    bright_bars = chance.random() < 0.6
    bar = tint(0.35, 0.75, 0.05) if bright_bars else tint(0.03, 0.14, 0.2)
    drum = tint(0.05, 0.3, 0.35) if bright_bars else tint(0.2, 0.5, 0.25)
    return Look(
        plate=tint(0.08, 0.45, 0.06),
        housing=tint(0.05, 0.3, 0.1),
        drum=drum,
        disc=np.clip(drum * chance.uniform(0.8, 1.3), 0.01, 0.95),
        bar=bar,
        block=tint(0.03, 0.2, 0.2),
        finger=tint(0.4, 0.7, 0.05) * np.array([1.0, 0.85, 0.6]),
        frame=tint(0.45, 0.75, 0.04),
        disc_corners=int(chance.choice([64, 64, 8, 6])),
        metal=float(chance.uniform(0.1, 0.8)),
    )


def random_camera(
    chance: np.random.Generator, layout: Layout, size: tuple[int, int], *, tilt_most: float = 38.0
) -> Camera:
    """Invent a view: any roll, tilts mostly under 30 degrees, 22 to 70 mm lenses, k1 from -0.12 to 0.05."""
    width, height = size
    f = float(np.exp(chance.uniform(np.log(22.0), np.log(70.0)))) / 36 * max(size)
    roll = chance.uniform(0, 2 * np.pi) if chance.random() < 0.6 else chance.normal(0, 0.2)
    tilt = np.radians(min(abs(chance.normal(0, 16)), tilt_most))
    direction = chance.uniform(0, 2 * np.pi)
    down = np.array([[np.cos(roll), -np.sin(roll), 0], [-np.sin(roll), -np.cos(roll), 0], [0, 0, -1.0]])
    turn = np.asarray(cv2.Rodrigues(np.array([np.cos(direction), np.sin(direction), 0]) * tilt)[0])
    rotation = turn @ down
    scale = chance.uniform(0.5, 1.0) * max(size) / max(layout.plan_size_mm)
    shift = (
        chance.normal(0, 0.06, size=2) * [width, height]
        if chance.random() < 0.8
        else chance.normal(0, 0.18, 2) * [width, height]
    )
    depth = f / scale
    place = np.array([shift[0] / scale, shift[1] / scale, depth])
    centre = np.array([(width - 1) / 2, (height - 1) / 2])
    rvec = np.asarray(cv2.Rodrigues(rotation)[0], np.float64).ravel()
    return Camera(f, float(chance.uniform(-0.12, 0.05)), centre, rvec, place - rotation @ layout.middle_mm)


def random_angles(
    chance: np.random.Generator, layout: Layout, kind: str, target: str
) -> tuple[dict[str, float], dict[str, float]]:
    """True bar angles of every rotor; the target's part way, at the border or contradictory by `kind`."""
    upper, lower = {}, {}
    for rotor in layout.rotors:
        off, square = chance.uniform(-4.4, 4.4), chance.normal(0, 0.45)
        if rotor.id == target:
            off, square = _targeted(chance, kind, off, square)
        angle = rotor.finger_axis_deg + 90.0 * int(chance.integers(0, 2)) + off
        upper[rotor.id] = float(angle % 180)
        lower[rotor.id] = float((angle + 90.0 + square) % 180)
    return upper, lower


def _targeted(chance: np.random.Generator, kind: str, off: float, square: float) -> tuple[float, float]:
    sign = chance.choice([-1.0, 1.0])
    if kind == "part_way":
        return float(sign * chance.uniform(20, 45)), square
    if kind == "border_outside":
        return float(sign * chance.uniform(14, 20)), square
    if kind == "border_inside":
        return float(sign * chance.uniform(8, 10)), square
    if kind == "contradiction":
        return off, float(sign * chance.uniform(20, 90))
    return off, square


KINDS = (
    *("legal",) * 12,
    *("part_way", "part_way", "border_outside", "border_inside", "contradiction"),
    *("grease", "tool", "wires", "wires", "glare", "glare", "blur", "blur", "motion", "dark"),
)


def random_scene(
    layout: Layout, look: Look, seed: int, kind: str | None = None, *, tags: bool | None = None
) -> Scene:
    """Invent one photo of a layout."""
    chance = np.random.default_rng(seed)
    kind = kind or str(chance.choice(KINDS))
    size = (1280, 960) if chance.random() < 0.6 else (960, 1280)
    camera = random_camera(chance, layout, size)
    target = str(chance.choice([rotor.id for rotor in layout.rotors]))
    upper, lower = random_angles(chance, layout, kind, target)
    scale = camera.px_per_mm(layout.middle_mm)
    return Scene(
        layout=layout,
        look=look,
        camera=camera,
        size=size,
        light=random_light(chance),
        shot=_shot(chance, kind, scale * layout.rotors[0].upper.width_mm),
        upper_deg=upper,
        lower_deg=lower,
        unit=int(chance.integers(0, 1000)),
        tags=bool(chance.random() < 0.5) if tags is None else tags,
        torch=(chance.uniform(0.2, 0.8), chance.uniform(0.2, 0.8), chance.uniform(0.0, 1.6)),
        seed=seed,
        spoil=_spoil(chance, kind, target, layout),
    )


def random_light(chance: np.random.Generator) -> Light:
    """Invent a lamp: from above or from the side, soft or hard."""
    direction, slope = chance.uniform(0, 2 * np.pi), chance.uniform(0.1, 1.3)
    ambient = float(chance.uniform(0.25, 0.75))
    return Light(
        slope * np.array([np.cos(direction), np.sin(direction)]), float(chance.uniform(0.03, 0.5)), ambient
    )


def _shot(chance: np.random.Generator, kind: str, bar_px: float) -> Exposure:
    defocus = float(abs(chance.normal(0, 0.18)) * bar_px) if chance.random() < 0.7 else 0.0
    motion = 0.0
    if kind == "blur":
        defocus = float(chance.uniform(0.3, 1.5) * bar_px)
    if kind == "motion":
        motion = float(chance.uniform(0.3, 2.0) * bar_px)
    gain = float(np.exp(chance.normal(0, 0.35)))
    dark = kind == "dark"
    return Exposure(
        defocus_px=defocus,
        motion_px=motion,
        motion_deg=float(chance.uniform(0, 180)),
        gain=gain * (0.2 if dark else 1.0),
        noise=float(np.exp(chance.uniform(np.log(0.004), np.log(0.05)))) * (2.5 if dark else 1.0),
        warmth=float(chance.normal(0, 0.4)),
        contrast=float(chance.uniform(0.0, 0.9)),
        sharpening=float(chance.uniform(0.0, 1.2)),
        quality=int(chance.integers(60, 96)),
    )


def _spoil(chance: np.random.Generator, kind: str, target: str, layout: Layout) -> Spoil:
    if kind == "wires":
        return Spoil(wires_in_front=int(chance.integers(1, 5)))
    if kind == "tool":
        return Spoil(tool=target)
    if kind == "grease":
        bar = str(chance.choice(["upper", "lower", "both"]))
        return Spoil(grease=((target, bar, float(chance.uniform(0.5, 1.4))),))
    if kind == "glare":
        others = [r.id for r in layout.rotors if chance.random() < 0.4]
        return Spoil(
            glare=tuple((name, float(np.exp(chance.uniform(-1.5, 1.5)))) for name in {target, *others})
        )
    return Spoil()
