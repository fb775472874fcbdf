"""Which way up: every other way to lay the plan is listed, and nothing is called that it would read otherwise."""

import numpy as np
import pytest

from tests.vision.scenery import invented, seen_from_above
from vision.lookalikes import moved_camera, moves


def test_a_plan_that_repeats_when_turned_has_that_turn_among_its_moves():
    layout = invented(31, 2, changes="twofold").layout
    found = [rotor.id for rotor in layout.rotors]
    half_turn = [
        m for m in moves(layout, found) if m.swaps == {"R1": "R4", "R2": "R3", "R3": "R2", "R4": "R1"}
    ]
    assert any(not move.mirrored and not move.turns_fingers(layout) for move in half_turn)


def test_the_sample_plan_fits_only_itself_and_its_mirror_image(job_layout):
    listed = moves(job_layout, ["R1", "R2", "R3"])
    assert [(move.mirrored, move.swaps) for move in listed] == [(True, {"R1": "R2", "R2": "R1", "R3": "R3"})]


def test_with_part_of_the_rotors_in_view_more_ways_fit_and_fingers_may_tell(job_layout):
    listed = moves(job_layout, ["R1", "R2"])
    assert any(not move.mirrored and move.swaps == {"R1": "R2", "R2": "R1"} for move in listed)
    assert all(move.turns_fingers(job_layout) for move in listed if not move.mirrored)


def test_a_moved_camera_sees_the_swapped_rotors_where_the_found_ones_were(job_reader, job_photo):
    reading = job_reader.read(job_photo(1))
    for move in moves(job_reader.layout, ["R1", "R2", "R3"]):
        camera = moved_camera(reading.camera, move, 1280)
        for old, new in move.swaps.items():
            there = reading.camera.project(np.array([[*job_reader.layout.rotor(old).centre_mm, 0.0]]))[0]
            here = camera.project(np.array([[*job_reader.layout.rotor(new).centre_mm, 0.0]]))[0]
            if move.mirrored:
                here[0] = 1279 - here[0]
            assert np.abs(here - there).max() < 25


@pytest.mark.parametrize(
    ("along", "may_be_called"),
    [
        ({"R1": "upper", "R2": "upper", "R3": "lower", "R4": "lower"}, set()),
        ({"R1": "upper", "R2": "lower", "R3": "lower", "R4": "upper"}, {"R1", "R2", "R3", "R4"}),
        ({"R1": "upper", "R2": "lower", "R3": "upper", "R4": "upper"}, {"R1", "R4"}),
    ],
)
def test_without_tags_a_symmetric_switch_is_called_only_where_both_ways_agree(along, may_be_called):
    switch = invented(31, 2, changes="twofold")
    reading = switch.reader.read(switch.photo(along, tags=False).photo)
    legal = {rotor.id for rotor in reading.rotors if rotor.state == "legal"}
    assert legal <= may_be_called
    for rotor in reading.rotors:
        if rotor.state == "legal":
            assert rotor.upper.state == ("along" if along[rotor.id] == "upper" else "across")


def test_tags_tell_a_symmetric_switch_the_way_up():
    along = {"R1": "upper", "R2": "upper", "R3": "lower", "R4": "lower"}
    switch = invented(31, 2, changes="twofold")
    camera = seen_from_above(switch.layout, (2000, 900), share=0.95)
    reading = switch.reader.read(switch.photo(along, camera=camera, size=(2000, 900)).photo)
    assert reading.method.startswith("tags")
    called = {rotor.id: rotor.upper.state for rotor in reading.rotors if rotor.state == "legal"}
    assert len(called) >= 3
    assert all(state == ("along" if along[name] == "upper" else "across") for name, state in called.items())
