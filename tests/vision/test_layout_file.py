"""A layout that is missing something, contradicts itself or is not finite is refused, and the field is named."""

import json

import pytest

from tests.vision.conftest import SAMPLES
from vision import LayoutRefusal, load_layout
from vision.layout_file import MAX_LAYOUT_BYTES

FILE = SAMPLES / "jobs" / "rw-204" / "layout.json"


def changed(path: str, value: object = ...) -> bytes:
    """The sample layout with one field replaced, or left out."""
    described = json.loads(FILE.read_text())
    *way, last = [int(step) if step.isdigit() else step for step in path.split("/")]
    spot = described
    for step in way:
        spot = spot[step]
    if value is ...:
        del spot[last]
    else:
        spot[last] = value
    return json.dumps(described).encode()


FAULTS = [
    ("plan_size_mm", ..., "plan_size_mm"),
    ("plan_size_mm", [150], "plan_size_mm"),
    ("rotors", [], "rotors"),
    ("rotors/0/id", "R2", "rotors"),
    ("rotors/0/centre_mm", [45.0, float("nan")], r"rotors\[0\].centre_mm\[1\]"),
    ("rotors/0/centre_mm", [45.0, float("inf")], r"rotors\[0\].centre_mm\[1\]"),
    ("rotors/1/centre_mm", [50.0, 84.0], r"rotors\[1\].centre_mm"),
    ("rotors/1/centre_mm", [500.0, 84.0], r"rotors\[1\].centre_mm"),
    ("rotors/2/drum_radius_mm", "13", r"rotors\[2\].drum_radius_mm"),
    ("rotors/2/drum_radius_mm", -13, r"rotors\[2\].drum_radius_mm"),
    ("rotors/2/upper_disc_radius_mm", 14.0, r"rotors\[2\].upper_disc_radius_mm"),
    ("rotors/0/finger_axis_deg", True, r"rotors\[0\].finger_axis_deg"),
    ("rotors/0/bars/1", ..., r"rotors\[0\].bars"),
    ("rotors/0/bars/1/id", "upper", r"rotors\[0\].bars"),
    ("rotors/0/bars/1/z_mm", 3.0, r"rotors\[0\].bars"),
    ("rotors/0/bars/1/length_mm", 10.0, r"rotors\[0\].bars"),
    ("rotors/0/bars/0/width_mm", 40.0, r"rotors\[0\].bars\[0\].width_mm"),
    ("rotors/0/bars/0/contacts/0/along_means", "shut", r"rotors\[0\].bars\[0\].contacts\[0\].along_means"),
    ("rotors/0/bars/0/contacts/0/id", "R2-top-1", "rotors"),
    ("nearly_symmetric", "no", "nearly_symmetric"),
    ("angle_band/across_from_deg", 10, "angle_band.across_from_deg"),
    ("tags/family", "25h9", "tags.family"),
    ("tags/items/0/id", 587, r"tags.items\[0\].id"),
    ("tags/items/1/id", 111, "tags.items"),
    ("way_up_marks/0/z_mm", ..., r"way_up_marks\[0\].z_mm"),
]


@pytest.mark.parametrize(("path", "value", "field"), FAULTS)
def test_a_faulty_layout_is_refused_with_its_field(path, value, field):
    with pytest.raises(LayoutRefusal, match=field):
        load_layout(changed(path, value), b"")


@pytest.mark.parametrize("text", [b"", b"{", b"[1, 2]", b'"layout"', b"\xff\xfe", b"[" * 5000])
def test_what_is_no_json_object_is_refused(text):
    with pytest.raises(LayoutRefusal):
        load_layout(text)


def test_an_oversized_layout_is_refused_before_it_is_parsed():
    with pytest.raises(LayoutRefusal, match="bytes"):
        load_layout(b" " * (MAX_LAYOUT_BYTES + 1))


def test_a_layout_with_neither_tags_nor_reference_is_refused_with_the_reason():
    with pytest.raises(LayoutRefusal, match="neither tags nor a reference photo"):
        load_layout(changed("tags"))


def test_a_reference_outside_the_layouts_folder_is_refused(tmp_path):
    (tmp_path / "layout.json").write_bytes(changed("reference_photo", "../secret.jpg"))
    with pytest.raises(LayoutRefusal, match="reference_photo"):
        load_layout(tmp_path / "layout.json")


def test_the_sample_layout_loads_with_its_reference_and_both_meanings_of_along():
    layout = load_layout(FILE)
    assert [rotor.id for rotor in layout.rotors] == ["R1", "R2", "R3"]
    assert layout.reference is not None
    inverse = load_layout(changed("rotors/0/bars/0/contacts/0/along_means", "open"))
    assert inverse.contact_bars()["R1-top-1"] == ("R1", "upper", "open")
