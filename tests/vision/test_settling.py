"""Settling on a photo: likely places side by side, and drawing again about the best."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from tests.vision.scenery import invented, seen_from_above
from vision.align import Edges, edges_of
from vision.camera import Camera
from vision.constellation import otherwise
from vision.layout import Layout
from vision.photo import decode
from vision.settling import Settling
from vision.sketch import Sketch, sketch_of, thinned

SIZE = (1280, 960)


@dataclass(frozen=True)
class Seen:
    """A rendered photo without tags, its true camera, and what settling needs of it."""

    layout: Layout
    truth: Camera
    sketch: Sketch
    pixels: np.ndarray
    edges: Edges

    def settling(self) -> Settling:
        return Settling(self.layout, self.sketch, thinned(self.sketch), self.pixels, self.edges)

    def off_mm(self, camera: Camera) -> float:
        """How far the rotor that lies farthest off lies from where it truly is."""
        middles = np.array([[*rotor.centre_mm, 0.0] for rotor in self.layout.rotors])
        apart = np.linalg.norm(camera.project(middles) - self.truth.project(middles), axis=1)
        return float(apart.max() / self.truth.px_per_mm(self.layout.middle_mm))

    def shifted(self, x_mm: float, y_mm: float) -> Camera:
        return replace(self.truth, tvec=self.truth.tvec + np.array([x_mm, y_mm, 0.0]))


@pytest.fixture(scope="module")
def seen():
    switch = invented(7, 3)
    layout = switch.layout
    assert layout.reference is not None
    camera = seen_from_above(layout, SIZE, roll=25.0, tilt=18.0, share=0.7)
    pixels = decode(switch.photo({"R2": "lower"}, tags=False, camera=camera).photo).pixels
    sketch = sketch_of(layout, decode(layout.reference.photo))
    return Seen(layout, camera, sketch, pixels, edges_of(pixels))


def test_of_likely_places_settled_side_by_side_the_right_one_is_best_whichever_comes_first(seen):
    near, aside = seen.shifted(0.8, -0.6), seen.shifted(-6.0, 5.0)
    for cameras in ((aside, near), (near, aside)):
        settling = seen.settling()
        settling.side_by_side(cameras)
        assert len(settling.tried) == 2
        assert seen.off_mm(settling.best.placed.camera) < 0.5
        assert seen.off_mm(settling.tried[1].placed.camera) > 2.0


def test_a_place_is_settled_once_however_often_it_is_likely(seen):
    settling = seen.settling()
    settling.side_by_side([seen.shifted(0.5, 0.0), seen.shifted(-0.5, 0.3)])
    assert len(settling.tried) == 1
    settling.side_by_side([seen.shifted(0.5, 0.0)])
    assert len(settling.tried) == 1


def test_a_place_settled_under_the_wrong_tilt_is_drawn_to_the_right_one(seen):
    settling = seen.settling()
    wrong = settling.settled(otherwise(seen.truth, seen.layout.middle_mm), reaches_mm=(0.8,))
    found = settling.drawn_again(wrong)
    assert seen.off_mm(wrong.placed.camera) > 1.5
    assert found.merit > wrong.merit
    assert seen.off_mm(found.placed.camera) < 0.5


def test_a_place_settled_a_few_millimetres_off_is_drawn_to_the_right_one(seen):
    settling = seen.settling()
    wrong = settling.settled(seen.shifted(3.5, -2.0), reaches_mm=(0.8,))
    found = settling.drawn_again(wrong)
    assert seen.off_mm(wrong.placed.camera) > 1.5
    assert seen.off_mm(found.placed.camera) < 0.5


def test_drawing_again_about_the_right_place_keeps_it(seen):
    settling = seen.settling()
    right = settling.settled(seen.shifted(0.3, 0.2))
    found = settling.drawn_again(right)
    assert found.merit >= right.merit
    assert seen.off_mm(found.placed.camera) < 0.5


def test_evidence_is_plain_where_the_switch_is_and_weak_beside_it(seen):
    settling = seen.settling()
    right = settling.settled(seen.truth)
    assert right.plain
    assert right.believed
    beside = settling.settled(seen.shifted(35.0, 20.0))
    assert beside.evidence < right.evidence
    assert not beside.plain
    assert not beside.believed
