"""Reads a layout.json; refuses one that lacks something, contradicts itself or is not finite."""

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from vision.layout import (
    AngleBand,
    BarPlan,
    ContactPlan,
    Layout,
    Point,
    Reference,
    RotorPlan,
    TagPlan,
    WayUpMark,
    fingerprint_of,
)
from vision.refusals import LayoutRefusal

MAX_LAYOUT_BYTES = 2_000_000  # a layout of eight rotors has 10 kB
MAX_ROTORS = 32


def load_layout(source: Path | str | bytes, reference: bytes | None = None) -> Layout:
    """Load and check a switch layout.

    Parameters
    ----------
    source : path or bytes
        The layout.json. From a path its reference photo is looked for beside it; from bytes hand it in.
    reference : bytes, optional
        The reference photo, where `source` is bytes.

    Raises
    ------
    LayoutRefusal
        `field` names the faulty part as a path.

    Examples
    --------
    >>> load_layout(b'{"id": "x"}')
    Traceback (most recent call last):
    ...
    vision.refusals.LayoutRefusal: plan_size_mm: is missing.

    """
    folder: Path | None = None
    if isinstance(source, bytes):
        text = source
    else:
        folder = Path(source).parent
        try:
            text = Path(source).read_bytes()
        except OSError as error:
            raise LayoutRefusal(f"cannot be read: {error.strerror}.", field=str(source)) from None
    return _layout(_object(text), text, _reference_bytes(folder, reference, text))


def _object(text: bytes) -> "Node":
    if len(text) > MAX_LAYOUT_BYTES:
        raise LayoutRefusal(f"The layout has {len(text)} bytes, more than {MAX_LAYOUT_BYTES}.")
    try:
        parsed = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise LayoutRefusal(f"The layout is not JSON: {error}") from None
    if not isinstance(parsed, dict):
        raise LayoutRefusal("The layout must be a JSON object.")
    return Node(parsed, "")


def _reference_bytes(folder: Path | None, given: bytes | None, text: bytes) -> bytes | None:
    if given is not None or folder is None:
        return given
    name = _object(text).fields.get("reference_photo")
    if name is None:
        return None
    if not isinstance(name, str) or Path(name).name != name:
        raise LayoutRefusal("must be a file name beside the layout.", field="reference_photo")
    try:
        return (folder / name).read_bytes()
    except FileNotFoundError:
        return None  # photos with tags can be read without it; a layout without tags is refused below
    except OSError as error:
        raise LayoutRefusal(f"{name} cannot be read: {error.strerror}.", field="reference_photo") from None


class Node:
    """One JSON object with its path, so that each refusal can name the field at fault."""

    def __init__(self, fields: Mapping[str, Any], path: str) -> None:
        self.fields = fields
        self.path = path

    def at(self, name: str) -> str:
        """Path of a field of this object."""
        return f"{self.path}.{name}" if self.path else name

    def value(self, name: str) -> Any:  # noqa: ANN401 - JSON is untyped until one of the methods below has looked
        """Return a required field."""
        if name not in self.fields:
            raise LayoutRefusal("is missing.", field=self.at(name))
        return self.fields[name]

    def number(self, name: str, low: float, high: float) -> float:
        """Return a finite number within [low, high]."""
        return _number(self.value(name), self.at(name), low, high)

    def point(self, name: str, low: float = -2000.0, high: float = 2000.0) -> Point:
        """Return a pair of finite numbers."""
        pair = self.value(name)
        if not isinstance(pair, list) or len(pair) != 2:
            raise LayoutRefusal("must be two numbers.", field=self.at(name))
        x, y = (_number(part, f"{self.at(name)}[{i}]", low, high) for i, part in enumerate(pair))
        return (x, y)

    def word(self, name: str) -> str:
        """Return a non-empty text of at most 80 characters."""
        text = self.value(name)
        if not isinstance(text, str) or not text.strip() or len(text) > 80:
            raise LayoutRefusal("must be a short text.", field=self.at(name))
        return text

    def items(self, name: str, *, required: bool = True) -> "list[Node]":
        """Return a list of objects."""
        listed = self.value(name) if required else self.fields.get(name) or []
        if not isinstance(listed, list) or not all(isinstance(item, dict) for item in listed):
            raise LayoutRefusal("must be a list of objects.", field=self.at(name))
        return [Node(item, f"{self.at(name)}[{i}]") for i, item in enumerate(listed)]


def _number(value: object, path: str, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise LayoutRefusal("must be a number.", field=path)
    if not math.isfinite(value) or not low <= value <= high:
        raise LayoutRefusal(f"is {value}, not within {low:g} to {high:g}.", field=path)
    return float(value)


def _layout(root: Node, text: bytes, reference: bytes | None) -> Layout:
    plan = root.point("plan_size_mm", 5.0)
    rotors = tuple(_rotor(node) for node in root.items("rotors"))
    if not 1 <= len(rotors) <= MAX_ROTORS:
        raise LayoutRefusal(f"has {len(rotors)} rotors, not 1 to {MAX_ROTORS}.", field="rotors")
    _refuse_twins([r.id for r in rotors], "rotors", "rotor id")
    _refuse_twins([c.id for r in rotors for b in r.bars for c in b.contacts], "rotors", "contact id")
    _refuse_overlap(rotors, plan)
    symmetric = root.fields.get("nearly_symmetric", False)
    if not isinstance(symmetric, bool):
        raise LayoutRefusal("must be true or false.", field="nearly_symmetric")
    marks = tuple(_mark(node) for node in root.items("way_up_marks", required=False))
    tags, shown = _tags(root), _reference(root, reference)
    if not tags and shown is None:
        raise LayoutRefusal(
            "The layout has neither tags nor a reference photo: nothing could find it in a photo."
        )
    return Layout(
        id=root.word("id"),
        plan_size_mm=plan,
        rotors=rotors,
        nearly_symmetric=symmetric,
        way_up_marks=marks,
        tags=tags,
        angle_band=_band(root),
        reference=shown,
        fingerprint=fingerprint_of(text),
    )


def _refuse_twins(names: list[str] | list[int], path: str, what: str) -> None:
    twins = sorted({str(name) for name in names if names.count(name) > 1})  # type: ignore[arg-type]
    if twins:
        raise LayoutRefusal(f"{what} {', '.join(twins)} is given twice.", field=path)


def _refuse_overlap(rotors: tuple[RotorPlan, ...], plan: Point) -> None:
    for i, rotor in enumerate(rotors):
        x, y = rotor.centre_mm
        if not (0 <= x <= plan[0] and 0 <= y <= plan[1]):
            raise LayoutRefusal(f"{rotor.id} lies outside the plan.", field=f"rotors[{i}].centre_mm")
        for other in rotors[:i]:
            gap = math.dist(rotor.centre_mm, other.centre_mm)
            if gap < rotor.drum_radius_mm + other.drum_radius_mm:
                raise LayoutRefusal(f"{rotor.id} and {other.id} overlap.", field=f"rotors[{i}].centre_mm")


def _rotor(node: Node) -> RotorPlan:
    drum = node.number("drum_radius_mm", 1.0, 500.0)
    disc = node.number("upper_disc_radius_mm", 0.5, 500.0)
    if disc >= drum:
        raise LayoutRefusal("is not smaller than the drum.", field=node.at("upper_disc_radius_mm"))
    bars = {bar.id: bar for bar in map(_bar, node.items("bars"))}
    if set(bars) != {"upper", "lower"} or len(node.items("bars")) != 2:
        raise LayoutRefusal("must be one upper and one lower bar.", field=node.at("bars"))
    if bars["lower"].z_mm >= bars["upper"].z_mm:
        raise LayoutRefusal("the lower bar lies above the upper one.", field=node.at("bars"))
    if bars["lower"].length_mm <= 2 * disc:
        raise LayoutRefusal("the lower bar does not show beside the disc.", field=node.at("bars"))
    axis = node.number("finger_axis_deg", -360.0, 360.0) % 180
    centre = node.point("centre_mm")
    return RotorPlan(node.word("id"), centre, drum, disc, axis, bars["upper"], bars["lower"])


def _bar(node: Node) -> BarPlan:
    name = node.word("id")
    if name not in ("upper", "lower"):
        raise LayoutRefusal('must be "upper" or "lower".', field=node.at("id"))
    length = node.number("length_mm", 1.0, 1000.0)
    width = node.number("width_mm", 0.2, 500.0)
    if width >= length:
        raise LayoutRefusal("is not smaller than the length.", field=node.at("width_mm"))
    contacts = tuple(_contact(contact) for contact in node.items("contacts"))
    return BarPlan(name, length, width, node.number("z_mm", -200.0, 200.0), contacts)  # type: ignore[arg-type]


def _contact(node: Node) -> ContactPlan:
    means = node.value("along_means")
    if means not in ("closed", "open"):
        raise LayoutRefusal('must be "closed" or "open".', field=node.at("along_means"))
    return ContactPlan(node.word("id"), means)


def _mark(node: Node) -> WayUpMark:
    size = node.point("size_mm", 0.5, 500.0)
    return WayUpMark(node.word("kind"), node.point("centre_mm"), size, node.number("z_mm", -200.0, 200.0))


def _tags(root: Node) -> tuple[TagPlan, ...]:
    given = root.fields.get("tags")
    if given is None:
        return ()
    if not isinstance(given, dict):
        raise LayoutRefusal("must be an object.", field="tags")
    node = Node(given, "tags")
    if node.value("family") != "36h11":
        raise LayoutRefusal("only family 36h11 is read.", field="tags.family")
    tags = tuple(_tag(item, given.get("z_mm")) for item in node.items("items"))
    _refuse_twins([tag.id for tag in tags], "tags.items", "tag id")
    return tags


def _tag(node: Node, shared_z: object) -> TagPlan:
    number = node.number("id", 0, 586)
    if number != int(number):
        raise LayoutRefusal("must be a whole number.", field=node.at("id"))
    if "z_mm" in node.fields or shared_z is None:
        z = node.number("z_mm", -200.0, 200.0)
    else:
        z = _number(shared_z, "tags.z_mm", -200.0, 200.0)
    return TagPlan(int(number), node.point("centre_mm"), node.number("size_mm", 0.5, 500.0), z)


def _band(root: Node) -> AngleBand:
    given = root.fields.get("angle_band")
    if given is None:
        return AngleBand()
    if not isinstance(given, dict):
        raise LayoutRefusal("must be an object.", field="angle_band")
    node = Node(given, "angle_band")
    along = node.number("along_within_deg", 1.0, 44.0)
    return AngleBand(along, node.number("across_from_deg", along + 1.0, 89.0))


def _reference(root: Node, photo: bytes | None) -> Reference | None:
    if not photo:
        return None
    rows = root.value("reference_homography_plan_to_px")
    path = "reference_homography_plan_to_px"
    if (
        not isinstance(rows, list)
        or len(rows) != 3
        or any(not isinstance(r, list) or len(r) != 3 for r in rows)
    ):
        raise LayoutRefusal("must be 3 x 3 numbers.", field=path)
    matrix = np.array(
        [
            [_number(v, f"{path}[{i}][{j}]", -1e9, 1e9) for j, v in enumerate(row)]
            for i, row in enumerate(rows)
        ],
    )
    if abs(np.linalg.det(matrix[:2, :2])) < 1e-6:
        raise LayoutRefusal("maps the plan onto a line.", field=path)
    return Reference(photo, matrix)
