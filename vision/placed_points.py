"""Reads a points file: what a person placed on one straight photo to make a switch layout of it.

YAML (or JSON) with pixel coordinates of the photo as it is shown, that is, after its EXIF orientation:

    id: pump-house                        # the layout's name
    scale:                                # known distances; two that cross give a tilted photo away
    - {between_px: [[210, 880], [1070, 884]], mm: 150.0, z_mm: 0.0}  # z: height over the discs' faces
    - {between_px: [[640, 900], [641, 180]], mm: 126.0, z_mm: 0.0}
    # or  scale: {tag_size_mm: 9.0, tag_z_mm: 0.0}: printed 36h11 tags in the photo, edge of the black square
    up_px: [[640, 900], [641, 100]]       # optional: a line that points up in the plan; else the picture's up
    bars:                                 # both bars of every rotor; a rotor may have its own
      upper: {length_mm: 20.6, width_mm: 5.2, z_mm: 1.5}           # z: height of the bar's top face over
      lower: {length_mm: 28.0, width_mm: 7.8, z_mm: -2.5}          # the face of the upper disc
    rotors:
    - id: R1
      centre_px: [388, 402]               # middle of the upper disc
      disc_rim_px: [435, 402]             # any point on the disc's rim; or disc_radius_mm: 8.2
      drum_rim_px: [462, 402]             # any point on the drum's rim; or drum_radius_mm: 13.0
      fingers_px: [[340, 470], [436, 334]]         # the middles of its two finger blocks
      contacts: {upper: [{id: R1-top-1, along_means: closed}], lower: [{id: R1-low-1, along_means: closed}]}
    way_up_marks:                         # fixed things that tell which way up; their top's height over the discs
    - {kind: square_block, corners_px: [[610, 500], [668, 560]], z_mm: -9.0}
    plan_px: [[120, 900], [1150, 60]]     # optional: two opposite corners of the plan
"""

from collections.abc import Hashable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import yaml

from vision.layout import Point
from vision.layout_file import Node
from vision.refusals import LayoutRefusal

MAX_POINTS_BYTES = 500_000
_FARTHEST_PX = 100_000.0
# A line shorter than this gives no direction and no scale: a finger's width of slip would turn it.
_SHORTEST_PX = 8.0


@dataclass(frozen=True)
class KnownDistance:
    """Two pixels whose distance in the plan is known, at height `z_mm`."""

    from_px: Point
    to_px: Point
    mm: float
    z_mm: float


@dataclass(frozen=True)
class KnownTags:
    """The size of the printed tags in the photo, and the height at which they lie."""

    size_mm: float
    z_mm: float


@dataclass(frozen=True)
class PlacedRotor:
    """One rotor; a radius is millimetres, or a pixel on its rim. `bars` and `contacts` are as in a layout."""

    id: str
    centre_px: Point
    disc: float | Point
    drum: float | Point
    fingers_px: tuple[Point, Point]
    bars: dict[str, dict[str, Any]]
    contacts: dict[str, list[dict[str, Any]]]


@dataclass(frozen=True)
class PlacedMark:
    """One way-up mark by two opposite corners of its top."""

    kind: str
    corners_px: tuple[Point, Point]
    z_mm: float


@dataclass(frozen=True)
class PlacedPoints:
    """Everything that was placed on one photo, pixels as shown."""

    id: str
    scale: tuple[KnownDistance, ...] | KnownTags
    up_px: tuple[Point, Point] | None
    rotors: tuple[PlacedRotor, ...]
    marks: tuple[PlacedMark, ...]
    plan_px: tuple[Point, Point] | None


class _Loader(yaml.SafeLoader):
    """YAML without aliases (a small file could unfold without bound) and without keys given twice."""

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        if self.check_event(yaml.AliasEvent):
            raise yaml.composer.ComposerError(problem="aliases are not used here")
        return super().compose_node(parent, index)

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Hashable, Any]:  # noqa: FBT001, FBT002 - yaml's own signature
        keys = [key.value for key, _ in node.value if isinstance(key, yaml.ScalarNode)]
        twice = next((one for one, other in pairwise(sorted(keys)) if one == other), None)
        if twice is not None:
            raise yaml.constructor.ConstructorError(problem=f"{twice} is given twice")
        return super().construct_mapping(node, deep)


def read_points(path: Path) -> PlacedPoints:
    """Read and check a points file.

    Raises
    ------
    LayoutRefusal
        `field` names the faulty part as a path ("rotors[1].centre_px").

    """
    try:
        text = path.read_bytes()
    except OSError as error:
        raise LayoutRefusal(f"cannot be read: {error.strerror}.") from None
    if len(text) > MAX_POINTS_BYTES:
        raise LayoutRefusal(f"has {len(text)} bytes, more than {MAX_POINTS_BYTES}.")
    return points_of(text)


def points_of(text: bytes) -> PlacedPoints:
    """Check the bytes of a points file; raises LayoutRefusal."""
    try:
        parsed = yaml.load(text, Loader=_Loader)  # noqa: S506 - a SafeLoader that allows less
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        what = str(getattr(error, "problem", "") or error).splitlines()[0]
        mark = getattr(error, "problem_mark", None)
        line = f" in line {mark.line + 1}" if mark is not None else ""
        raise LayoutRefusal(f"is not YAML{line}: {what}.") from None
    if not isinstance(parsed, dict):
        raise LayoutRefusal("holds no points: it must name scale, bars and rotors.")
    root = Node(parsed, "")
    common = _bars(root) if "bars" in parsed else {}
    rotors = tuple(_rotor(node, common) for node in root.items("rotors"))
    if not rotors:
        raise LayoutRefusal("names no rotor.", field="rotors")
    return PlacedPoints(
        id=root.word("id"),
        scale=_scale(root),
        up_px=_line(root, "up_px") if "up_px" in parsed else None,
        rotors=rotors,
        marks=tuple(_mark(node) for node in root.items("way_up_marks", required=False)),
        plan_px=_line(root, "plan_px") if "plan_px" in parsed else None,
    )


def _object(node: Node, name: str) -> Node:
    value = node.value(name)
    if not isinstance(value, dict):
        raise LayoutRefusal("must be an object.", field=node.at(name))
    return Node(value, node.at(name))


def _pixel(node: Node, name: str) -> Point:
    return node.point(name, -0.5, _FARTHEST_PX)


def _line(node: Node, name: str) -> tuple[Point, Point]:
    """Two pixels far enough apart to give a direction."""
    pair = node.value(name)
    if not isinstance(pair, list) or len(pair) != 2:
        raise LayoutRefusal("must be two points.", field=node.at(name))
    ends = Node({str(i): end for i, end in enumerate(pair)}, node.at(name))
    one, other = _pixel(ends, "0"), _pixel(ends, "1")
    if max(abs(one[0] - other[0]), abs(one[1] - other[1])) < _SHORTEST_PX:
        raise LayoutRefusal("has its two points on top of each other.", field=node.at(name))
    return one, other


def _scale(root: Node) -> tuple[KnownDistance, ...] | KnownTags:
    given = root.value("scale")
    if isinstance(given, list) and given:
        return tuple(_distance(node) for node in root.items("scale"))
    node = _object(root, "scale")
    if "tag_size_mm" in node.fields:
        height = node.number("tag_z_mm", -200.0, 200.0) if "tag_z_mm" in node.fields else 0.0
        return KnownTags(node.number("tag_size_mm", 0.5, 500.0), height)
    if "between_px" not in node.fields:
        raise LayoutRefusal("needs between_px and mm (a known distance), or tag_size_mm.", field="scale")
    return (_distance(node),)


def _distance(node: Node) -> KnownDistance:
    one, other = _line(node, "between_px")
    height = node.number("z_mm", -200.0, 200.0) if "z_mm" in node.fields else 0.0
    return KnownDistance(one, other, node.number("mm", 1.0, 2000.0), height)


def _bars(node: Node) -> dict[str, dict[str, Any]]:
    both = _object(node, "bars")
    return {
        name: {
            "length_mm": bar.number("length_mm", 1.0, 1000.0),
            "width_mm": bar.number("width_mm", 0.2, 500.0),
            "z_mm": bar.number("z_mm", -200.0, 200.0),
        }
        for name in ("upper", "lower")
        for bar in (_object(both, name),)
    }


def _rotor(node: Node, common: dict[str, dict[str, Any]]) -> PlacedRotor:
    bars = _bars(node) if "bars" in node.fields else common
    if not bars:
        raise LayoutRefusal("is missing, and there is none for all rotors.", field=node.at("bars"))
    contacts = _object(node, "contacts")
    return PlacedRotor(
        id=node.word("id"),
        centre_px=_pixel(node, "centre_px"),
        disc=_radius(node, "disc"),
        drum=_radius(node, "drum"),
        fingers_px=_line(node, "fingers_px"),
        bars=bars,
        contacts={name: _contacts(contacts, name) for name in ("upper", "lower")},
    )


def _radius(node: Node, what: str) -> float | Point:
    if f"{what}_radius_mm" in node.fields:
        return node.number(f"{what}_radius_mm", 0.5, 500.0)
    if f"{what}_rim_px" not in node.fields:
        raise LayoutRefusal(f"is missing; or give {what}_radius_mm.", field=node.at(f"{what}_rim_px"))
    return _pixel(node, f"{what}_rim_px")


def _contacts(node: Node, bar: str) -> list[dict[str, Any]]:
    return [
        {"id": contact.word("id"), "along_means": contact.fields.get("along_means", "closed")}
        for contact in node.items(bar)
    ]


def _mark(node: Node) -> PlacedMark:
    return PlacedMark(node.word("kind"), _line(node, "corners_px"), node.number("z_mm", -200.0, 200.0))
