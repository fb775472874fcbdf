"""Placing every rotor: one camera from rims and bars, on rendered switches whose camera is known."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.vision.scenery import Switch, seen_from_above
from vision.bar_pieces import bar_pieces
from vision.camera import Camera
from vision.circles import find, view
from vision.placement import NO_CORNERS, settle
from vision.render import render

SIZE = (1280, 960)


def moved(camera: Camera, x: float, y: float) -> Camera:
    """The camera of a plan that lies `x` and `y` millimetres further."""
    move = np.eye(4)
    move[:2, 3] = [x, y]
    return camera.turned(move)


def without_rims(switch: Switch) -> Switch:
    """Drums and discs of the plate's own colour: nothing of a rotor stands out but its bars and fingers."""
    look = switch.look
    return replace(switch, look=replace(look, drum=look.plate, disc=look.plate))


def off_mm(switch: Switch, found: Camera, true: Camera) -> float:
    """Largest distance over all rotors between where two cameras put their middles."""
    middles = np.array([[*rotor.centre_mm, 0.0] for rotor in switch.layout.rotors])
    px = np.linalg.norm(found.project(middles) - true.project(middles), axis=1)
    return float(px.max()) / true.px_per_mm(switch.layout.middle_mm)


@pytest.mark.parametrize("tilt", [0.0, 25.0])
def test_bars_place_the_rotors_where_their_rims_do_not_show(three_rotors, tilt):
    switch = without_rims(three_rotors)
    camera = seen_from_above(switch.layout, SIZE, tilt=tilt)
    photo = switch.photo({"R2": "lower"}, tags=False, camera=camera)
    start = moved(camera, 0.9, -0.7)
    assert off_mm(switch, start, camera) > 1.0
    placed = settle(photo.pixels, start, switch.layout, NO_CORNERS, (1.5, 0.8, 0.8), 0.5)
    assert off_mm(switch, placed.camera, camera) < 0.5


def test_points_of_bars_say_where_the_rotors_middle_is(three_rotors):
    camera = seen_from_above(three_rotors.layout, SIZE, tilt=15.0)
    photo = three_rotors.photo({}, tags=False, camera=camera)
    rotor = three_rotors.layout.rotors[0]
    found = bar_pieces(photo.pixels, moved(camera, 0.5, 0.6), rotor, 1.5)
    assert len(found.plan) >= 8
    off = ((found.pixels - camera.project(found.plan)) * found.normals).sum(axis=1)
    middle_px = np.linalg.lstsq(found.normals, off, rcond=None)[0]
    assert np.linalg.norm(middle_px) < 0.2 * camera.px_per_mm(np.array([*rotor.centre_mm, 0.0]))


def test_a_lower_bar_past_half_a_turn_is_looked_for_on_its_own_side(three_rotors):
    camera = seen_from_above(three_rotors.layout, SIZE, tilt=10.0)
    photo = three_rotors.photo({}, tags=False, camera=camera)
    rotor = next(
        r for r in three_rotors.layout.rotors if r.finger_axis_deg > 90.0
    )  # its lower bar at 180 and more
    found = bar_pieces(photo.pixels, moved(camera, 0.9, -0.7), rotor, 1.5)
    lower = found.plan[:, 2] < 0
    assert lower.sum() >= 4
    off = ((found.pixels - camera.project(found.plan)) * found.normals).sum(axis=1)[lower]
    assert np.abs(off).max() < 0.4 * camera.px_per_mm(np.array([*rotor.centre_mm, 0.0]))


def test_no_points_are_taken_where_there_are_no_bars(three_rotors):
    camera = seen_from_above(three_rotors.layout, SIZE)
    chance = np.random.default_rng(4)
    wall = cv2.GaussianBlur(chance.normal(120, 40, (SIZE[1], SIZE[0], 3)), (0, 0), 3)
    pixels = np.clip((wall - 120) * 4 + 120, 0, 255).astype(np.uint8)
    taken = [len(bar_pieces(pixels, camera, rotor, 1.5).plan) for rotor in three_rotors.layout.rotors]
    assert max(taken) < 5


def test_a_plainer_circle_further_off_does_not_draw_a_rotor_away(three_rotors):
    camera = seen_from_above(three_rotors.layout, SIZE)
    rotor = three_rotors.layout.rotors[0]
    pixels = render(three_rotors.scene({}, tags=False, camera=camera)).pixels.copy()
    scale = camera.px_per_mm(np.array([*rotor.centre_mm, 0.0]))
    aside = camera.project(np.array([[rotor.centre_mm[0] + 1.7, rotor.centre_mm[1], 0.0]]))[0]
    for radius in (rotor.upper_disc_radius_mm, rotor.drum_radius_mm):
        cv2.circle(pixels, np.rint(aside).astype(int).tolist(), round(radius * scale), (255, 255, 255), 2)
    seen = view(pixels, camera, rotor, 2.0)
    assert np.hypot(*find(seen, 2.0).shift_mm) > 1.2
    assert np.hypot(*find(seen, 2.0, far_cost=0.3).shift_mm) < 0.5
