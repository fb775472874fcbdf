"""A tap on the upper edge: which way up a switch is seen that looks alike upside down."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vision.scenery import invented, seen_from_above
from vision.way_up import edge_at, tapped_mm, upper_edge_words

SIZE = (1280, 960)
SET = {"R1": "upper", "R2": "lower", "R3": "upper", "R4": "upper"}
"""Turned by 180 degrees R1 falls on R4 and R2 on R3: R2 and R3 would then be read otherwise, R1 and R4 the same."""


@pytest.fixture(scope="module")
def alike():
    return invented(3, 2, changes="twofold")


def photo_of(switch, roll: float, *, tags: bool = False):
    camera = seen_from_above(switch.layout, SIZE, roll=roll, tilt=8)
    return switch.photo(SET, tags=tags, camera=camera), camera


def tap_at(camera, x_mm: float, y_mm: float):
    pixel = camera.project(np.array([[x_mm, y_mm, 0.0]]))[0]
    return tuple(float(share) for share in pixel / (np.array(SIZE) - 1))


def uppers(reading):
    return {rotor.id: rotor.upper.state for rotor in reading.rotors}


TRUE = {"R1": "along", "R2": "across", "R3": "along", "R4": "along"}


@pytest.mark.parametrize("roll", [0.0, 180.0])
def test_a_tap_tells_what_the_photo_leaves_open_whichever_way_up_it_was_taken(alike, roll):
    picture, camera = photo_of(alike, roll)
    width, height = alike.layout.plan_size_mm

    open_still = alike.reader.read(picture.photo)
    assert open_still.way_up == "not told"
    assert {name for name, state in uppers(open_still).items() if state == "unreadable"} == {"R2", "R3"}
    middle = alike.reader.read(picture.photo, upper_edge=tap_at(camera, width / 2, height / 2))
    assert (middle.way_up, uppers(middle)) == ("not told", uppers(open_still))

    told = alike.reader.read(picture.photo, upper_edge=tap_at(camera, width / 2, 0.97 * height))
    assert told.way_up == "tap"
    called = {name: state for name, state in uppers(told).items() if state != "unreadable"}
    assert called.items() <= TRUE.items()
    assert len(called) >= 3
    assert told.to_json()["registration"]["way_up"] == "tap"


def _told(switch, roll):
    picture, camera = photo_of(switch, roll)
    width, height = switch.layout.plan_size_mm
    return uppers(switch.reader.read(picture.photo, upper_edge=tap_at(camera, width / 2, 0.97 * height)))


def test_after_a_tap_every_rotor_of_a_clear_photo_is_read(alike):
    assert _told(alike, 0.0) == TRUE


def test_after_a_tap_every_rotor_of_a_clear_photo_is_read_upside_down_too(alike):
    assert _told(alike, 180.0) == TRUE


def test_a_tap_against_the_tags_is_refused(alike):
    picture, camera = photo_of(alike, 0.0, tags=True)
    width, height = alike.layout.plan_size_mm
    right = alike.reader.read(picture.photo, upper_edge=tap_at(camera, width / 2, 0.97 * height))
    assert (right.way_up, uppers(right)) == ("tags", TRUE)
    wrong = alike.reader.read(picture.photo, upper_edge=tap_at(camera, width / 2, 0.03 * height))
    assert wrong.verdict == "refused"
    assert "goes against what the photo shows" in wrong.reason


def test_a_tap_against_way_up_marks_is_refused(three_rotors):
    picture, camera = photo_of(three_rotors, 20.0)
    width, height = three_rotors.layout.plan_size_mm
    assert three_rotors.reader.read(picture.photo).way_up == "structure"
    wrong = three_rotors.reader.read(picture.photo, upper_edge=tap_at(camera, width / 2, 0.03 * height))
    assert wrong.verdict == "refused"


@pytest.mark.parametrize("share", [0.5, 0.97], ids=["middle", "upper edge"])
def test_a_tap_is_not_said_to_have_told_what_the_photo_tells_itself(three_rotors, share):
    picture, camera = photo_of(three_rotors, 20.0)
    width, height = three_rotors.layout.plan_size_mm
    reading = three_rotors.reader.read(picture.photo, upper_edge=tap_at(camera, width / 2, share * height))
    assert reading.way_up == "structure"


def test_where_one_rotor_alone_is_sure_no_tap_tells_and_none_is_asked_for(alike, monkeypatch):
    picture, camera = photo_of(alike, 0.0)
    width, height = alike.layout.plan_size_mm
    register = alike.reader._registrar.register

    def one_rotor(pixels):
        found = register(pixels)
        return replace(found, confirmed=found.confirmed[:1])

    monkeypatch.setattr(alike.reader._registrar, "register", one_rotor)
    for tap in (None, tap_at(camera, width / 2, 0.97 * height)):
        reading = alike.reader.read(picture.photo, upper_edge=tap)
        assert reading.way_up == "too few rotors"
        assert set(uppers(reading).values()) == {"unreadable"}


@given(
    x=st.floats(-20, 120),
    y=st.floats(-20, 120),
    roll=st.floats(-180, 180),
    tilt=st.floats(0, 40),
    k1=st.floats(-0.15, 0.1),
)
def test_a_tapped_pixel_leads_back_to_the_plan_point_that_is_seen_there(x, y, roll, tilt, k1):
    camera = replace(seen_from_above(invented(7, 3).layout, SIZE, roll=roll, tilt=tilt), k1=k1)
    pixel = camera.project(np.array([[x, y, 0.0]]))[0]
    assert tapped_mm(camera, pixel) == pytest.approx([x, y], abs=0.5)


def test_only_a_tap_in_the_outer_third_counts_for_an_edge(alike):
    width, height = alike.layout.plan_size_mm
    edges = [
        edge_at(alike.layout, np.array([width / 2, share * height])) for share in (-0.1, 0.2, 0.5, 0.8, 1.1)
    ]
    assert edges == ["lower", "lower", "none", "upper", "upper"]
    assert edge_at(alike.layout, np.array([width / 2, 3 * height])) == "none"
    assert edge_at(alike.layout, None) == "none"


def test_the_upper_edge_is_named_by_the_rotors_along_it_or_by_the_order_of_one_row(alike, three_rotors):
    assert (
        upper_edge_words(alike.layout) == "the one that is up when R2, R1, R4 and R3 stand from left to right"
    )
    r1, r2, r3 = three_rotors.layout.rotors
    width, height = three_rotors.layout.plan_size_mm
    two_rows = (
        replace(r1, centre_mm=(0.2 * width, 0.2 * height)),
        replace(r2, centre_mm=(0.8 * width, 0.9 * height)),
        replace(r3, centre_mm=(0.3 * width, 0.8 * height)),
    )
    assert upper_edge_words(replace(three_rotors.layout, rotors=two_rows)) == "the one along R3 and R2"
