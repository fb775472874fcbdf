"""The search without tags: few starts first, and how surely what it finds is the switch."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.vision.scenery import invented, seen_from_above
from vision.candidate import EVIDENCE_LEAST, EVIDENCE_PLAIN, MARK_MIDWAY, Candidate
from vision.photo import decode
from vision.structure import Structure

SIZE = (1280, 960)


@pytest.fixture(scope="module")
def structure():
    return Structure(invented(7, 3).layout)


@pytest.fixture(scope="module")
def photo():
    switch = invented(7, 3)
    camera = seen_from_above(switch.layout, SIZE, roll=140.0, tilt=20.0, share=0.7)
    picture = switch.photo({"R1": "lower"}, tags=False, camera=camera).photo
    return decode(picture).pixels, camera


def _off_mm(found: Candidate, truth, layout) -> float:
    middles = np.array([[*rotor.centre_mm, 0.0] for rotor in layout.rotors])
    apart = np.linalg.norm(found.placed.camera.project(middles) - truth.project(middles), axis=1)
    return float(apart.max() / truth.px_per_mm(layout.middle_mm))


def test_a_clear_photo_is_found_by_few_starts_as_well_as_by_all(structure, photo):
    pixels, truth = photo
    layout = invented(7, 3).layout
    quick, thorough = (structure.search(pixels, thorough=whole) for whole in (False, True))
    assert quick is not None
    assert thorough is not None
    assert quick.plain
    assert _off_mm(quick, truth, layout) < 0.5
    assert _off_mm(thorough, truth, layout) < 0.5


def test_a_mirrored_photo_gives_less_evidence_than_the_photo_as_it_is(structure, photo):
    pixels, _ = photo
    right = structure.search(pixels, thorough=False)
    mirrored = structure.search(np.ascontiguousarray(pixels[:, ::-1]), thorough=False)
    assert right is not None
    assert mirrored is None or mirrored.evidence < right.evidence - 0.1
    assert mirrored is None or not mirrored.plain


def test_a_wall_shows_nothing_to_search_for(structure):
    assert structure.search(np.full((960, 1280, 3), 127, np.uint8)) is None


@pytest.mark.parametrize("which", [0, -1])
def test_a_mark_that_shows_no_edge_in_the_reference_is_left_out(photo, which):
    layout = invented(7, 3).layout
    assert layout.reference is not None
    reference = decode(layout.reference.photo)
    plan = np.array([[layout.way_up_marks[which].centre_mm]])
    x, y = np.rint(cv2.perspectiveTransform(plan, layout.reference.plan_to_px)[0, 0] / reference.scale)
    glaring = cv2.circle(reference.pixels.copy(), (int(x), int(y)), 90, (120, 120, 120), -1)
    encoded = cv2.imencode(".png", glaring)[1].tobytes()
    blank = Structure(replace(layout, reference=replace(layout.reference, photo=encoded)))
    pixels, truth = photo
    found = blank.search(pixels, thorough=False)
    assert found is not None
    assert np.isfinite(found.evidence)
    assert _off_mm(found, truth, layout) < 0.5


def test_blocks_of_one_rotor_and_circles_are_no_plain_evidence_by_themselves(structure, photo):
    pixels, truth = photo
    right = structure.at(pixels, truth)
    assert right.plain
    between = (EVIDENCE_LEAST + EVIDENCE_PLAIN) / 2
    rest = right.evidence - right.most
    weaker = replace(right, most=between - rest)
    assert weaker.believed
    assert not weaker.plain
    assert not replace(right, most=EVIDENCE_LEAST - 0.01 - rest).believed


def test_marks_that_do_not_agree_speak_against_a_place(structure, photo):
    pixels, truth = photo
    right = structure.at(pixels, truth)
    assert right.marks > MARK_MIDWAY
    assert replace(right, marks=0.05).evidence < replace(right, marks=MARK_MIDWAY).evidence < right.evidence
