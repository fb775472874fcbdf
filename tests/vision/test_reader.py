"""The reader as a whole: photo and truth side by side, what must not change a reading, and what must be refused."""

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest
import skimage.data

from tests.vision.conftest import SAMPLES
from tests.vision.scenery import invented, seen_from_above
from vision.calibrate import invent
from vision.phone import Exposure
from vision.reader import Reader
from vision.reasons import Reason
from vision.render import render
from vision.scenes import Spoil, random_scene
from vision.structure import Structure


def truth_of(name: str) -> dict:
    """What the manifest says of a sample photo."""
    lines = (SAMPLES / "MANIFEST.jsonl").read_text().splitlines()
    return next(line["truth"] for line in map(json.loads, lines) if line["file"] == f"photos/{name}")


def coded(pixels: np.ndarray, quality: int = 92) -> bytes:
    return cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()


def pixels_of(photo: bytes) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(photo, np.uint8), cv2.IMREAD_COLOR)


@pytest.mark.parametrize("number", [0, 1, 4, 5, 8, 10, 14, 15])
def test_every_contact_of_a_tagged_job_photo_is_read_as_its_truth(job_reader, job_photo, number):
    reading = job_reader.read(job_photo(number))
    assert reading.method == "tags"
    assert reading.contacts == truth_of(f"job_{number:03d}.jpg")["contacts"]


def test_a_photo_without_tags_from_another_side_is_read_by_the_switchs_own_structure(job_reader, job_photo):
    reading = job_reader.read(job_photo(3))
    assert reading.method == "structure"
    truth = truth_of("job_003.jpg")
    wrong = {c for c, s in reading.contacts.items() if s not in ("unknown", truth["contacts"][c])}
    assert wrong == set()
    assert sum(s != "unknown" for s in reading.contacts.values()) >= 8
    for bar in reading.bars:
        off = abs((bar.angle_deg - truth["bars"][bar.rotor][bar.bar]["angle_deg"] + 90) % 180 - 90)
        assert bar.state == "unreadable" or off < 4 * bar.sigma_deg


def test_a_photo_out_of_focus_is_refused_and_the_reason_names_the_focus(job_reader, job_photo):
    reading = job_reader.read(job_photo(2))
    assert reading.verdict == "refused"
    assert "blurred" in reading.reason
    assert set(reading.contacts.values()) <= {"unknown"}


def steps(pixels: np.ndarray) -> dict[str, np.ndarray]:
    """Changes that a photo may undergo without a change of what it shows."""
    return {
        "turned by a quarter": np.rot90(pixels),
        "turned by a half": np.rot90(pixels, 2),
        "turned by three quarters": np.rot90(pixels, 3),
        "dimmed": (pixels * 0.55).astype(np.uint8),
        "cropped": pixels[15:-25, 20:-10],
        "smaller": cv2.resize(pixels, None, fx=0.8, fy=0.8, interpolation=cv2.INTER_AREA),
    }


@pytest.mark.parametrize("change", [*steps(np.zeros((50, 50, 3), np.uint8)), "recompressed"])
def test_a_reading_does_not_change_with_the_photos_outward_form(job_reader, job_photo, change):
    photo = job_photo(6)
    before = job_reader.read(photo)
    pixels = pixels_of(photo)
    after = job_reader.read(
        coded(pixels, 45) if change == "recompressed" else coded(np.ascontiguousarray(steps(pixels)[change]))
    )
    assert after.contacts == before.contacts
    for one, other in zip(before.bars, after.bars, strict=True):
        assert one.state == other.state
        turn = abs((one.angle_deg - other.angle_deg + 90) % 180 - 90)
        assert turn < 2 * np.hypot(one.sigma_deg, other.sigma_deg)


def test_the_same_photo_read_twice_gives_the_same_reading(job_reader, job_photo):
    one, other = (job_reader.read(job_photo(7)).to_json() for _ in range(2))
    one.pop("ms"), other.pop("ms")
    assert one == other


def test_a_mirrored_photo_is_refused_where_a_tilt_hides_that_the_plan_differs():
    """An invented plan whose mirror image fits its own circles when tilted; its blocks do not fit."""
    layout, look = invent(7300)
    photo = render(random_scene(layout, look, 73_000_103, tags=False)).photo
    reader = Reader(layout)
    assert reader.read(photo).method == "structure"
    mirrored = reader.read(coded(np.ascontiguousarray(pixels_of(photo)[:, ::-1])))
    assert mirrored.verdict == "refused"
    assert "mirrored" in mirrored.reason


def test_a_photo_told_from_its_mirror_image_is_read_where_the_mirrored_one_fits_nearly_as_well(
    job_reader, job_photo
):
    reading = job_reader.read(job_photo(12))
    assert reading.verdict == "read"
    assert all(rotor.state == "legal" for rotor in reading.rotors)


def test_where_the_mirrored_photo_fits_nearly_as_well_and_only_as_it_is_nothing_is_read(
    job_reader, job_photo, monkeypatch
):
    search = Structure.search

    def one_rotor_confirmed(structure, pixels, *, thorough=True):
        found = search(structure, pixels, thorough=thorough)
        if thorough:
            return found
        return replace(found, confirmed=("R1",), agreement=0.1, most=found.most + found.agreement - 0.1)

    monkeypatch.setattr(Structure, "search", one_rotor_confirmed)
    reading = job_reader.read(job_photo(12))
    assert (reading.verdict, reading.reason) == ("refused", Reason.UNSURE_MIRRORED.about())


def test_a_mirrored_photo_is_refused_as_mirrored(job_reader, job_photo):
    mirrored = coded(np.ascontiguousarray(pixels_of(job_photo(1))[:, ::-1]))
    reading = job_reader.read(mirrored)
    assert reading.verdict == "refused"
    assert "mirrored" in reading.reason


@pytest.mark.outside(source="scikit-image sample pictures: photos that show no switch")
@pytest.mark.parametrize("name", ["astronaut", "coffee", "brick"])
def test_a_picture_of_something_else_is_refused(job_reader, name):
    picture = getattr(skimage.data, name)()
    picture = picture if picture.ndim == 3 else np.dstack([picture] * 3)
    reading = job_reader.read(coded(np.ascontiguousarray(picture[:, :, ::-1])))
    assert reading.verdict == "refused"
    assert reading.reason
    assert reading.contacts in ({}, dict.fromkeys(reading.contacts, "unknown"))


@pytest.mark.parametrize("bad", [b"", b"not a photo", b"\xff\xd8\xff\xe0 torn"])
def test_bytes_that_are_no_photo_give_a_refusal_and_no_exception(job_reader, bad):
    reading = job_reader.read(bad, "x.jpg")
    assert (reading.verdict, reading.file) == ("refused", "x.jpg")
    assert reading.reason


def test_a_black_frame_is_refused(job_reader):
    assert job_reader.read(coded(np.zeros((960, 1280, 3), np.uint8))).verdict == "refused"


@pytest.mark.parametrize("rotors", [1, 3, 8])
def test_a_fresh_layout_is_read_with_its_tags(rotors):
    switch = invented(20 + rotors, rotors)
    along = {rotor.id: "lower" if i % 2 else "upper" for i, rotor in enumerate(switch.layout.rotors)}
    # Eight rotors make a wide plan: laid along the picture, so that its tags keep their pixels.
    camera = seen_from_above(switch.layout, (1600, 1200), roll=185.0, tilt=8.0, share=0.95)
    reading = switch.reader.read(switch.photo(along, camera=camera, size=(1600, 1200)).photo)
    called = {(bar.rotor, bar.bar): bar.state for bar in reading.bars if bar.state in ("along", "across")}
    assert len(called) >= 2 * rotors * 0.7
    for (rotor, bar), state in called.items():
        assert state == ("along" if along[rotor] == bar else "across")
    for contact, (rotor, bar, means) in switch.layout.contact_bars().items():
        touching = along[rotor] == bar
        expected = "closed" if touching == (means == "closed") else "open"
        assert reading.contacts[contact] in (expected, "unknown")


@pytest.mark.parametrize("off", [16.0, 25.0, 40.0, 55.0, 70.0])
def test_a_rotor_part_way_is_never_called(three_rotors, off):
    upper = {rotor.id: rotor.finger_axis_deg + off for rotor in three_rotors.layout.rotors}
    photo = three_rotors.photo(
        {}, upper_deg=upper, lower_deg={name: angle + 90 for name, angle in upper.items()}
    )
    reading = three_rotors.reader.read(photo.photo)
    assert {bar.state for bar in reading.bars} <= {"between", "unreadable"}
    assert set(reading.contacts.values()) == {"unknown"}
    assert "between" in {rotor.state for rotor in reading.rotors}


@pytest.mark.parametrize("square", [20.0, 45.0, 0.0])
def test_bars_that_contradict_each_other_close_and_open_nothing(three_rotors, square):
    upper = {rotor.id: rotor.finger_axis_deg for rotor in three_rotors.layout.rotors}
    photo = three_rotors.photo(
        {}, upper_deg=upper, lower_deg={name: angle + square for name, angle in upper.items()}
    )
    reading = three_rotors.reader.read(photo.photo)
    assert set(reading.contacts.values()) == {"unknown"}
    assert {rotor.state for rotor in reading.rotors} <= {"impossible", "unreadable"}


def test_a_hidden_rotor_is_refused_with_a_reason_and_its_neighbours_are_read(three_rotors):
    photo = three_rotors.photo({}, spoil=Spoil(tool="R2"))
    scene = three_rotors.scene({}, spoil=Spoil(grease=(("R2", "both", 3.5),)))
    for shown in (photo, render(scene)):
        reading = three_rotors.reader.read(shown.photo)
        states = {rotor.id: rotor.state for rotor in reading.rotors}
        hidden = next(bar for bar in shown.bars if (bar.rotor, bar.bar) == ("R2", "upper"))
        assert hidden.readable or states["R2"] == "unreadable"
        assert "legal" in states.values()
        assert all(rotor.reason for rotor in reading.rotors if rotor.state != "legal")


def test_glare_darkness_and_blur_never_turn_a_state_round(three_rotors):
    along = {"R1": "upper", "R2": "lower", "R3": "upper"}
    spoilt = [
        three_rotors.scene(along, spoil=Spoil(glare=(("R1", 3.0), ("R2", 0.6)))),
        three_rotors.scene(along, shot=Exposure(gain=0.12, noise=0.06)),
        three_rotors.scene(along, shot=Exposure(defocus_px=9.0)),
        three_rotors.scene(along, spoil=Spoil(wires_in_front=4)),
    ]
    for scene in spoilt:
        for bar in three_rotors.reader.read(render(scene).photo).bars:
            assert bar.state in (
                "unreadable",
                "between",
                "along" if along[bar.rotor] == bar.bar else "across",
            )


def test_a_rotor_outside_the_picture_is_named_and_the_others_are_read(job_reader, job_photo):
    whole = job_reader.read(job_photo(1))
    r1 = job_reader.layout.rotor("R1")
    at = whole.camera.project(np.array([[*r1.centre_mm, 0.0]]))[0]
    pixels = pixels_of(job_photo(1))
    left = int(at[0]) + 8
    cut = pixels[:, left:] if at[0] < pixels.shape[1] / 2 else pixels[:, : int(at[0]) - 8]
    reading = job_reader.read(coded(np.ascontiguousarray(cut)))
    outside = next(rotor for rotor in reading.rotors if rotor.id == "R1")
    assert outside.state == "unreadable"
    assert "step back or turn the phone" in outside.reason
    for contact, state in reading.contacts.items():
        assert state in ("unknown", whole.contacts[contact])
    assert "legal" in {rotor.state for rotor in reading.rotors}
