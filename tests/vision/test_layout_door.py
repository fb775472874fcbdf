"""A layout made from one straight photo: right to a millimetre, used by the reader, refused where points are bad."""

import copy
import json
import re
from functools import cache

import cv2
import numpy as np
import pytest
import yaml

from tests.vision.scenery import Switch, invented, seen_from_above
from vision import Reader, load_layout
from vision.__main__ import main
from vision.angles import apart
from vision.layout_making import make_layout
from vision.placed_points import points_of

SIZE = (1280, 960)


def placed_on(switch: Switch, camera, *, slip_px: float = 1.0, seed: int = 0, tags: bool = False) -> dict:
    """What a careful person would place on a photo taken by a camera, with a slip of the finger."""
    chance, layout = np.random.default_rng(seed), switch.layout

    def at(x: float, y: float, z: float) -> list[float]:
        spot = camera.project(np.array([[x, y, z]]))[0] + chance.normal(0, slip_px, 2)
        return [round(float(v), 1) for v in spot]

    rotors = []
    for rotor in layout.rotors:
        (x, y), low = rotor.centre_mm, rotor.lower.z_mm - rotor.upper.z_mm
        axis, reach = np.radians(rotor.finger_axis_deg), rotor.drum_radius_mm + 7
        rotors.append(
            {
                "id": rotor.id,
                "centre_px": at(x, y, 0),
                "disc_rim_px": at(x + rotor.upper_disc_radius_mm, y, 0),
                "drum_rim_px": at(x, y + rotor.drum_radius_mm, low),
                "fingers_px": [
                    at(x + s * reach * np.cos(axis), y + s * reach * np.sin(axis), low) for s in (-1, 1)
                ],
                "contacts": {
                    bar.id: [{"id": c.id, "along_means": c.along_means} for c in bar.contacts]
                    for bar in rotor.bars
                },
            }
        )
    one, other = layout.rotors[0], layout.rotors[1]
    bars = {
        bar.id: {"length_mm": bar.length_mm, "width_mm": bar.width_mm, "z_mm": bar.z_mm} for bar in one.bars
    }
    width, height = layout.plan_size_mm
    points = {
        "id": "made",
        "scale": {
            "between_px": [at(*one.centre_mm, 0), at(*other.centre_mm, 0)],
            "mm": float(np.hypot(*np.subtract(one.centre_mm, other.centre_mm))),
        },
        "up_px": [at(width / 2, 5, 0), at(width / 2, height - 5, 0)],
        "bars": bars,
        "rotors": rotors,
        "way_up_marks": [
            {
                "kind": mark.kind,
                "z_mm": mark.z_mm,
                "corners_px": [
                    at(
                        mark.centre_mm[0] + s * mark.size_mm[0] / 2,
                        mark.centre_mm[1] + s * mark.size_mm[1] / 2,
                        mark.z_mm,
                    )
                    for s in (-1, 1)
                ],
            }
            for mark in layout.way_up_marks
        ],
    }
    if tags:
        points["scale"] = {"tag_size_mm": layout.tags[0].size_mm}
        del points["up_px"]
    return points


@cache
def _straight() -> tuple[bytes, dict]:
    switch = invented(7, 3)
    camera = seen_from_above(switch.layout, SIZE)
    return switch.photo({}, tags=False, camera=camera).photo, placed_on(switch, camera)


@pytest.fixture
def straight() -> tuple[bytes, dict]:
    """A photo from straight above with its points."""
    return _straight()


def distances(layout) -> dict[tuple[str, str], float]:
    return {
        (a.id, b.id): float(np.hypot(*np.subtract(a.centre_mm, b.centre_mm)))
        for a in layout.rotors
        for b in layout.rotors
        if a.id < b.id
    }


def held_to(made, true) -> None:
    """Rotors lie to each other as in truth within a millimetre, their axes within two degrees."""
    for pair, mm in distances(true).items():
        assert distances(made)[pair] == pytest.approx(mm, abs=1.0)
    for one, other in zip(made.rotors, true.rotors, strict=True):
        assert float(apart(one.finger_axis_deg, other.finger_axis_deg)) < 2.0
        assert one.upper_disc_radius_mm == pytest.approx(other.upper_disc_radius_mm, abs=0.5)
        assert one.drum_radius_mm == pytest.approx(other.drum_radius_mm, abs=0.5)


def test_a_made_layout_holds_what_was_placed_and_reads_another_photo(straight, three_rotors, tmp_path):
    photo, points = straight
    (tmp_path / "straight.jpg").write_bytes(photo)
    (tmp_path / "points.yaml").write_text(yaml.safe_dump(points))
    arguments = ["--photo", str(tmp_path / "straight.jpg"), "--points", str(tmp_path / "points.yaml")]
    assert main(["layout", *arguments, "--out", str(tmp_path / "new")]) == 0
    made = load_layout(tmp_path / "new" / "layout.json")
    held_to(made, three_rotors.layout)
    along = {"R1": "lower", "R2": "upper", "R3": "lower"}
    camera = seen_from_above(three_rotors.layout, SIZE, roll=140.0, tilt=12.0, share=0.75)
    reading = Reader(made).read(three_rotors.photo(along, tags=False, camera=camera, unit=9).photo)
    called = [bar for bar in reading.bars if bar.state in ("along", "across")]
    assert len(called) >= 4
    assert all((bar.state == "along") == (along[bar.rotor] == bar.bar) for bar in called)
    picture = cv2.imread(str(tmp_path / "new" / "placed.jpg"))
    assert picture.shape[0] > SIZE[1]  # a band of words above the photo


def test_printed_tags_of_known_size_give_scale_tilt_and_their_own_places(three_rotors):
    camera = seen_from_above(three_rotors.layout, SIZE, tilt=14.0, share=0.85)
    photo = three_rotors.photo({}, camera=camera).photo
    made = make_layout(
        points_of(yaml.safe_dump(placed_on(three_rotors, camera, tags=True)).encode()), photo, "r.jpg"
    )
    held_to(made.layout, three_rotors.layout)
    true = {tag.id: tag for tag in three_rotors.layout.tags}
    places = {tag.id: np.array(tag.centre_mm) for tag in made.layout.tags}
    assert len(places) >= 4
    one, *others = places
    for other in others:
        apart_mm = places[other] - places[one]
        truly = np.subtract(true[other].centre_mm, true[one].centre_mm)
        # A tag of 40 pixels whose corners are half a pixel off gives the scale to a hundredth.
        assert np.abs(apart_mm - truly).max() < 0.3 + 0.01 * np.hypot(*truly)


def test_a_photo_stored_on_its_side_is_measured_as_it_is_shown(straight, three_rotors):
    from PIL import Image

    from tests.vision.test_photo import encoded

    photo, points = straight
    shown = cv2.cvtColor(cv2.imdecode(np.frombuffer(photo, np.uint8), cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
    stored = encoded(Image.fromarray(np.ascontiguousarray(np.rot90(shown))), "JPEG", 6, quality=92)
    made = make_layout(points_of(yaml.safe_dump(points).encode()), stored, "r.jpg")
    held_to(made.layout, three_rotors.layout)
    assert load_layout(made.text, stored).reference is not None


def test_marks_that_tell_the_way_up_are_said_to_tell_and_a_symmetric_plan_is_said_not_to(straight):
    photo, points = straight
    assert make_layout(points_of(yaml.safe_dump(points).encode()), photo, "r.jpg").way_up.told
    switch = invented(31, 2, changes="twofold")
    camera = seen_from_above(switch.layout, SIZE, share=0.9)
    points = placed_on(switch, camera, slip_px=0.3)
    made = make_layout(
        points_of(yaml.safe_dump(points).encode()), switch.photo({}, tags=False, camera=camera).photo, "r.jpg"
    )
    assert not made.way_up.told
    assert made.way_up.nearly_symmetric
    assert json.loads(made.text)["nearly_symmetric"] is True
    assert "way-up marks" in made.way_up.in_words()


def test_known_distances_that_disagree_and_a_rotor_placed_on_nothing_are_told(straight):
    photo, points = straight
    wrong = copy.deepcopy(points)
    crossing = {"between_px": [[600, 200], [610, 700]], "mm": 85.0}
    wrong["scale"] = [wrong["scale"], crossing]
    for what in ("centre_px", "disc_rim_px", "drum_rim_px"):
        x, y = wrong["rotors"][0][what]
        wrong["rotors"][0][what] = [x - 35, y + 35]
    warnings = make_layout(points_of(yaml.safe_dump(wrong).encode()), photo, "r.jpg").warnings()
    assert any("disagree" in text for text in warnings)
    assert any(text.startswith("R1: no circles") for text in warnings)


def changed(points: dict, way: tuple, value) -> bytes:
    spoilt = copy.deepcopy(points)
    spot = spoilt
    for step in way[:-1]:
        spot = spot[step]
    if value is ...:
        del spot[way[-1]]
    else:
        spot[way[-1]] = value
    return yaml.safe_dump(spoilt).encode()


FAULTS = [
    (("scale",), ..., "scale: is missing"),
    (("scale",), {"mm": 30}, "scale: needs between_px"),
    (("scale", "mm"), -4, "scale.mm"),
    (("scale", "between_px"), [[5, 5], [6, 6]], "on top of each other"),
    (("scale",), {"tag_size_mm": 9.0}, "no printed tag"),
    (("rotors",), [], "rotors: names no rotor"),
    (("rotors", 1, "centre_px"), [5000, 20], r"rotors\[1\].centre_px: .* outside the picture of 1280 x 960"),
    (("rotors", 1, "centre_px"), "here", r"rotors\[1\].centre_px: must be two numbers"),
    (("rotors", 0, "fingers_px"), [[1, 2]], r"rotors\[0\].fingers_px: must be two points"),
    (("rotors", 0, "disc_rim_px"), ..., r"rotors\[0\].disc_rim_px: is missing; or give disc_radius_mm"),
    (("rotors", 0, "disc_radius_mm"), 90.0, "upper_disc_radius_mm: is not smaller than the drum"),
    (("rotors", 2, "id"), "R1", "rotor id R1 is given twice"),
    (("bars",), ..., r"rotors\[0\].bars: is missing"),
    (("bars", "lower", "z_mm"), 9.0, "lower bar lies above"),
    (("way_up_marks", 0, "z_mm"), ..., r"way_up_marks\[0\].z_mm: is missing"),
]


@pytest.mark.parametrize(("way", "value", "said"), FAULTS)
def test_a_bad_point_is_one_line_that_names_it_and_status_2(straight, tmp_path, capsys, way, value, said):
    photo, points = straight
    (tmp_path / "p.jpg").write_bytes(photo)
    (tmp_path / "p.yaml").write_bytes(changed(points, way, value))
    arguments = ["--photo", str(tmp_path / "p.jpg"), "--points", str(tmp_path / "p.yaml")]
    assert main(["layout", *arguments, "--out", str(tmp_path / "new")]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    (line,) = told.err.splitlines()
    assert re.search(said, line)
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"rotors: [", "is not YAML in line 1"),
        (b"- 1", "holds no points"),
        (b"a: &x [1]\nb: *x", "aliases are not used"),
        (b"id: a\nid: b", "id is given twice"),
        (b"\xff\xfe\x00", "is not YAML"),
    ],
)
def test_a_points_file_that_is_none_is_one_line_and_status_2(straight, tmp_path, capsys, text, said):
    (tmp_path / "p.jpg").write_bytes(straight[0])
    (tmp_path / "p.yaml").write_bytes(text)
    arguments = ["--photo", str(tmp_path / "p.jpg"), "--points", str(tmp_path / "p.yaml")]
    assert main(["layout", *arguments, "--out", str(tmp_path)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert said in line


def test_a_missing_or_broken_photo_and_a_folder_with_a_layout_are_refused(straight, tmp_path, capsys):
    photo, points = straight
    (tmp_path / "p.yaml").write_text(yaml.safe_dump(points))
    arguments = ["layout", "--points", str(tmp_path / "p.yaml"), "--out", str(tmp_path / "new")]
    assert main([*arguments, "--photo", str(tmp_path / "none.jpg")]) == 2
    (tmp_path / "torn.jpg").write_bytes(photo[:2000])
    assert main([*arguments, "--photo", str(tmp_path / "torn.jpg")]) == 2
    (tmp_path / "p.jpg").write_bytes(photo)
    (tmp_path / "new").mkdir()
    (tmp_path / "new" / "layout.json").write_text("kept")
    assert main([*arguments, "--photo", str(tmp_path / "p.jpg")]) == 2
    missing, torn, taken = capsys.readouterr().err.splitlines()
    assert "cannot be read" in missing
    assert "torn" in torn
    assert "holds a layout.json already" in taken
    assert (tmp_path / "new" / "layout.json").read_text() == "kept"
