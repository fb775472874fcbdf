"""The bar measure on rendered rotors whose angles are known."""

import numpy as np
import pytest

from tests.vision.scenery import seen_from_above
from vision.angles import apart
from vision.bars import measure
from vision.circles import find, view
from vision.phone import Exposure
from vision.quality import quality_of
from vision.render import render


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0, 78.0, 90.0, 123.0, 179.0])
def test_a_bars_angle_is_counter_clockwise_from_the_plans_x_axis(three_rotors, turn):
    angles = {r.id: turn for r in three_rotors.layout.rotors}
    photo = three_rotors.photo(
        {}, tags=False, upper_deg=angles, lower_deg={k: v + 90 for k, v in angles.items()}
    )
    camera = seen_from_above(three_rotors.layout, (1280, 960))
    found = measure(photo.pixels, camera, three_rotors.layout.rotors[0], np.zeros(2))
    assert float(apart(found.upper.angle_deg, turn)) < 1.5
    assert float(apart(found.lower.angle_deg, turn + 90)) < 1.5


@pytest.mark.parametrize("tilt", [0.0, 15.0, 30.0])
def test_tilt_does_not_bend_a_measured_angle(three_rotors, tilt):
    camera = seen_from_above(three_rotors.layout, (1280, 960), tilt=tilt, share=0.7)
    angles = {r.id: 45.0 for r in three_rotors.layout.rotors}
    scene = three_rotors.scene(
        {}, tags=False, camera=camera, upper_deg=angles, lower_deg=dict.fromkeys(angles, 135.0)
    )
    found = measure(render(scene).pixels, camera, three_rotors.layout.rotors[1], np.zeros(2))
    assert float(apart(found.upper.angle_deg, 45.0)) < 2.5  # uncorrected it would be 4.1 at 30 degrees


def test_the_circles_bring_a_misplaced_rotor_home(three_rotors):
    photo = three_rotors.photo({}, tags=False)
    camera = seen_from_above(three_rotors.layout, (1280, 960))
    moved = np.eye(4)
    moved[:2, 3] = [1.2, -0.9]
    found = find(view(photo.pixels, camera.turned(moved), three_rotors.layout.rotors[0], 2.0), 2.0)
    assert np.abs(found.shift_mm + np.array([1.2, -0.9])).max() < 0.5
    assert found.score > 1.2


def test_blur_is_measured_in_millimetres_of_the_plan(three_rotors):
    camera = seen_from_above(three_rotors.layout, (1280, 960))
    rotor = three_rotors.layout.rotors[0]
    measured = []
    for defocus in (0.0, 8.0, 20.0):
        shot = Exposure(defocus_px=defocus, noise=0.003, sharpening=0.0)
        photo = three_rotors.photo({}, tags=False, shot=shot)
        measured.append(quality_of(view(photo.pixels, camera, rotor, 1.0).disc).blur_mm)
    scale = camera.px_per_mm(np.array([*rotor.centre_mm, 0.0]))
    assert measured[0] < 0.4
    # A blur disc of diameter d has a sigma of d / 4 along any line.
    assert measured[2] == pytest.approx(20.0 / 4 / scale, rel=0.35)
    assert measured[0] < measured[1] < measured[2]


def test_the_same_photo_gives_the_same_figures(three_rotors):
    photo = three_rotors.photo({}, tags=False)
    camera = seen_from_above(three_rotors.layout, (1280, 960))
    rotor = three_rotors.layout.rotors[2]
    assert measure(photo.pixels, camera, rotor, np.zeros(2)) == measure(
        photo.pixels, camera, rotor, np.zeros(2)
    )
