"""The renderer: the same scene gives the same bytes, and its truth is what it painted."""

import numpy as np
import pytest

from tests.vision.second_detector import second_opinion
from vision.phone import Exposure
from vision.render import render
from vision.scenes import KINDS, Spoil, random_scene
from vision.tags import corners_mm


def test_the_same_scene_gives_the_same_bytes(three_rotors):
    scene = random_scene(three_rotors.layout, three_rotors.look, 5, "legal")
    assert render(scene).photo == render(scene).photo


def test_the_truth_says_along_and_across_as_asked(three_rotors):
    bars = three_rotors.photo({"R1": "upper", "R2": "lower", "R3": "lower"}).bars
    states = {(bar.rotor, bar.bar): bar.state for bar in bars}
    assert states["R1", "upper"] == states["R2", "lower"] == states["R3", "lower"] == "along"
    assert states["R1", "lower"] == states["R2", "upper"] == states["R3", "upper"] == "across"


def test_every_kind_of_scene_can_be_drawn(three_rotors):
    scenes = [random_scene(three_rotors.layout, three_rotors.look, 40, kind) for kind in sorted(set(KINDS))]
    assert len({scene.shot.blur_px for scene in scenes}) > 2
    assert any(scene.spoil != Spoil() for scene in scenes)


def test_a_tool_on_a_rotor_and_heavy_blur_make_bars_unreadable(three_rotors):
    hidden = three_rotors.photo({}, spoil=Spoil(grease=(("R1", "both", 3.0),)))
    assert not next(bar for bar in hidden.bars if (bar.rotor, bar.bar) == ("R1", "upper")).readable
    blurred = three_rotors.photo({}, shot=Exposure(defocus_px=60.0))
    assert not any(bar.readable for bar in blurred.bars if bar.bar == "upper")


@pytest.mark.outside(
    source="pupil-apriltags 1.0.4: the AprilTag reference detector, which counts pixels from their upper left corner"
)
def test_tags_are_painted_no_larger_than_they_are(three_rotors):
    plain = Exposure(noise=0.002, contrast=0.0, sharpening=0.0, quality=98)
    scene = three_rotors.scene({}, shot=plain, torch=(0.5, 0.5, 0.0))
    tone = render(scene).pixels[..., 1] / 255
    light = np.clip(255 * tone**2.2, 0, 255).astype(np.uint8)  # even steps of light, as the painter laid them
    plans = {tag.id: tag for tag in three_rotors.layout.tags}
    seen = second_opinion(light)
    assert len(seen) >= 5
    for tag in seen:
        true = scene.camera.project(corners_mm(plans[tag.tag_id]))
        found = np.roll(tag.corners[::-1], 2, axis=0) - 0.5
        outward = (true - true.mean(axis=0)) / np.linalg.norm(true - true.mean(axis=0), axis=1, keepdims=True)
        assert np.linalg.norm(found - true, axis=1).max() < 0.5
        assert abs(((found - true) * outward).sum(axis=1).mean()) < 0.25
