"""The constellation of rotors: from a start that is millimetres off in every rotor to the true place."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from tests.vision.scenery import invented, seen_from_above
from vision.align import Edges, edges_of, tilted
from vision.camera import from_similarity
from vision.constellation import led, led_on, sprung
from vision.layout import Layout
from vision.photo import decode
from vision.render import render
from vision.scenes import random_scene
from vision.sketch import NO_VIEW, Sketch, agreement, one_view, sketch_of, thinned
from vision.structure import Structure

SIZE = (1280, 960)


@dataclass(frozen=True)
class Photo:
    """One rendered photo as the search sees it."""

    layout: Layout
    sketch: Sketch
    pixels: np.ndarray
    edges: Edges

    @property
    def seen(self):
        return (self.sketch, self.edges.middle, self.edges.size, self.layout.middle_mm)


def _photo(scene) -> Photo:
    layout = scene.layout
    assert layout.reference is not None
    sketch = thinned(sketch_of(layout, decode(layout.reference.photo)))
    pixels = decode(render(scene).photo).pixels
    return Photo(layout, sketch, pixels, edges_of(pixels))


def _off_mm(camera, truth, layout):
    """Median distance of the rotors' middles from where they truly are."""
    middles = np.array([[*rotor.centre_mm, 0.0] for rotor in layout.rotors])
    scale = np.array([truth.px_per_mm(middle) for middle in middles])
    return float(np.median(np.linalg.norm(camera.project(middles) - truth.project(middles), axis=1) / scale))


def _start(truth, layout, size, *, shift_px, roll_deg, share):
    """A camera that looks straight down where the true one looks, but shifted, turned and sized otherwise."""
    middle = layout.middle_mm
    at = truth.project(middle[None])[0]
    x, y = truth.project((middle + np.array([10.0, 0, 0]))[None])[0] - at
    roll = np.degrees(np.arctan2(-y, x))
    return from_similarity(size, roll + roll_deg, truth.px_per_mm(middle) * share, at + shift_px, middle)


def test_a_start_off_in_place_turn_and_size_leads_near_the_true_place(three_rotors):
    layout = three_rotors.layout
    scene = random_scene(layout, three_rotors.look, 41, "legal", tags=False)
    straight = from_similarity(scene.size, 25.0, 5.0, np.array(scene.size) / 2, layout.middle_mm)
    scene = replace(scene, camera=tilted(straight, layout.middle_mm, 0.15, 1.0))
    photo = _photo(scene)
    start = _start(
        scene.camera, layout, scene.size, shift_px=np.array([22.0, -18.0]), roll_deg=4.0, share=0.95
    )
    away = _start(
        scene.camera, layout, scene.size, shift_px=np.array([-190.0, 150.0]), roll_deg=120.0, share=0.8
    )
    found = led([away, start], *photo.seen, 4)
    assert _off_mm(start, scene.camera, layout) > 4.0
    assert _off_mm(found[0].camera, scene.camera, layout) < 0.5 * _off_mm(start, scene.camera, layout)


def test_what_it_gives_differs_and_does_not_change_from_call_to_call(three_rotors):
    layout = three_rotors.layout
    scene = random_scene(layout, three_rotors.look, 42, "legal", tags=False)
    photo, start = _photo(scene), tilted(scene.camera, layout.middle_mm, 0.2, 1.0)
    one, other = (led([start], *photo.seen, 3) for _ in range(2))
    assert [found.camera.project(layout.middle_mm[None]).tolist() for found in one] == [
        found.camera.project(layout.middle_mm[None]).tolist() for found in other
    ]
    assert len({(*found.camera.rvec.round(6), *found.camera.tvec.round(3)) for found in one}) == len(one)


@pytest.fixture(scope="module")
def steep():
    """A photo from 33 degrees aside, without tags, and its true camera."""
    switch = invented(7, 3)
    camera = seen_from_above(switch.layout, SIZE, roll=35.0, tilt=33.0, share=0.6)
    return _photo(switch.scene({"R2": "lower"}, tags=False, camera=camera)), camera


def test_from_a_straight_view_a_steep_one_is_found(steep):
    photo, truth = steep
    start = _start(truth, photo.layout, SIZE, shift_px=np.array([6.0, -5.0]), roll_deg=3.0, share=1.0)
    found = led([start], *photo.seen, 6)
    drawn = [sprung(one.camera, photo.sketch, photo.edges.middle, photo.layout.middle_mm) for one in found]
    best = max(drawn, key=lambda one: one.score)
    assert _off_mm(start, truth, photo.layout) > 2.0
    assert _off_mm(best.camera, truth, photo.layout) < 1.0


def test_a_view_tilted_to_the_wrong_side_leads_to_the_right_one(steep):
    photo, truth = steep
    middle = photo.layout.middle_mm
    other_side = min(
        (tilted(truth, middle, np.radians(66.0), direction) for direction in np.arange(0, 2 * np.pi, 0.05)),
        key=lambda camera: abs(camera.tilt_deg() - 33.0),
    )
    assert np.degrees(np.arccos(other_side.rotation[:, 2] @ truth.rotation[:, 2])) > 60
    found = led_on([other_side], *photo.seen, 2)
    assert np.degrees(np.arccos(found[0].camera.rotation[:, 2] @ truth.rotation[:, 2])) < 15


@pytest.mark.parametrize("direction", [0.5, 2.5, 4.5])
def test_a_camera_off_in_tilt_and_place_is_drawn_to_where_it_settles_in_place(steep, direction):
    photo, truth = steep
    middle = photo.layout.middle_mm
    shifted = replace(truth, tvec=truth.tvec + np.array([2.0, -1.5, 4.0]))
    start = tilted(shifted, middle, 0.15, direction)
    found = sprung(start, photo.sketch, photo.edges.middle, middle)
    settled = Structure(photo.layout).at(photo.pixels, found.camera)
    assert _off_mm(start, truth, photo.layout) > 1.5
    assert _off_mm(settled.placed.camera, truth, photo.layout) < 0.5


def test_a_view_almost_along_the_plan_is_never_believed(steep):
    photo, truth = steep
    seen = Structure(photo.layout).at(photo.pixels, truth)
    assert seen.believed
    flat = replace(seen, exact=NO_VIEW)
    assert (flat.believed, flat.merit) == (False, 0.0)
    along = tilted(truth, photo.layout.middle_mm, np.radians(35.0), steepest(truth))
    assert agreement(photo.sketch, one_view(along), photo.edges.middle)[0] == NO_VIEW


def steepest(camera):
    """Direction about which a camera tilts further the way it is tilted."""
    return float(np.arctan2(camera.rotation[0, 2], -camera.rotation[1, 2]) + np.pi)
