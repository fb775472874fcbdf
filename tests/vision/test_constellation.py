"""The constellation of rotors: from a start that is millimetres off in every rotor to the true place."""

from dataclasses import replace

import numpy as np

from vision.align import edges_of, tilted
from vision.camera import from_similarity
from vision.constellation import led
from vision.photo import decode
from vision.render import render
from vision.scenes import random_scene
from vision.sketch import sketch_of, thinned


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
    pixels = decode(render(scene).photo).pixels
    assert layout.reference is not None
    sketch = thinned(sketch_of(layout, decode(layout.reference.photo)))
    size, edges = (pixels.shape[1], pixels.shape[0]), edges_of(pixels)
    start = _start(scene.camera, layout, size, shift_px=np.array([22.0, -18.0]), roll_deg=4.0, share=0.95)
    away = _start(scene.camera, layout, size, shift_px=np.array([-190.0, 150.0]), roll_deg=120.0, share=0.8)
    found = led([away, start], sketch, edges.middle, size, 4)
    assert _off_mm(start, scene.camera, layout) > 4.0
    assert _off_mm(found[0], scene.camera, layout) < 0.5 * _off_mm(start, scene.camera, layout)


def test_what_it_gives_differs_and_does_not_change_from_call_to_call(three_rotors):
    layout = three_rotors.layout
    scene = random_scene(layout, three_rotors.look, 42, "legal", tags=False)
    pixels = decode(render(scene).photo).pixels
    assert layout.reference is not None
    sketch = thinned(sketch_of(layout, decode(layout.reference.photo)))
    size, edges = (pixels.shape[1], pixels.shape[0]), edges_of(pixels)
    start = tilted(scene.camera, layout.middle_mm, 0.2, 1.0)
    one, other = (led([start], sketch, edges.middle, size, 3) for _ in range(2))
    assert [camera.project(layout.middle_mm[None]).tolist() for camera in one] == [
        camera.project(layout.middle_mm[None]).tolist() for camera in other
    ]
    assert len({(*camera.rvec.round(6), *camera.tvec.round(3)) for camera in one}) == len(one)
