"""Which bars are believed, on rendered rotors whose camera is known."""

from dataclasses import replace

import numpy as np
import pytest

from tests.vision.scenery import invented, seen_from_above
from vision import load_layout
from vision.evidence import Evidence, Method, examine
from vision.judgement import judge
from vision.reading import RotorReading
from vision.render import Rendered, render
from vision.scenes import as_bytes, random_layout, random_look, random_scene


def judged(seed: int, chance: int, rotor: str, kind: str | None) -> tuple[RotorReading, Rendered]:
    """One rotor of one invented photo, judged under the photo's own camera."""
    layout = load_layout(as_bytes(random_layout(seed, marks=seed % 5 != 0)))
    scene = random_scene(layout, random_look(seed), chance, kind, tags=None if kind is None else False)
    seen = render(scene)
    evidence = examine(seen.pixels, scene.camera, layout.rotor(rotor), "structure")
    assert isinstance(evidence, Evidence)
    return judge(evidence, layout.angle_band), seen


@pytest.mark.parametrize(
    ("seed", "number", "rotor"),
    [
        (7226, 2, "R1"),
        (7230, 5, "R2"),
        (7231, 6, "R1"),
        (7241, 3, "R2"),
        (7243, 6, "R2"),
        (7385, 5, "R2"),
        (7393, 2, "R1"),
        (7398, 0, "R3"),
    ],
)
def test_fingers_do_not_pass_for_a_lower_bar_that_lies_elsewhere(seed, number, rotor):
    reading, seen = judged(seed, seed * 10_000 + 77 + number, rotor, "contradiction")
    bars = {bar.bar: bar for bar in seen.bars if bar.rotor == rotor}
    assert abs((bars["upper"].angle_deg - bars["lower"].angle_deg) % 180 - 90) > 20
    assert reading.state != "legal"
    assert reading.lower.state not in ("along", "across")


def test_a_lower_bar_along_its_fingers_needs_its_face_or_a_great_lead(three_rotors):
    scene = three_rotors.scene({"R1": "lower"}, tags=False)
    evidence = examine(render(scene).pixels, scene.camera, three_rotors.layout.rotors[0], "tags")
    assert isinstance(evidence, Evidence)
    states = {}
    for lead, face in ((2.2, 9.8), (2.2, 20.0), (1.9, 20.0), (3.2, 9.8)):
        lower = replace(evidence.measure.lower, rival_ratio=1.0, rival_figure=lead)
        measure = replace(evidence.measure, lower=lower, lower_face=face)
        reading = judge(replace(evidence, measure=measure), three_rotors.layout.angle_band)
        states[lead, face] = reading.lower.state
    assert states == {
        (2.2, 9.8): "unreadable",
        (2.2, 20.0): "along",
        (1.9, 20.0): "unreadable",
        (3.2, 9.8): "along",
    }


@pytest.mark.parametrize(("seed", "number", "rotor"), [(7028, 2, "R2"), (7024, 6, "R2"), (7024, 6, "R4")])
def test_a_bar_across_is_read_although_the_fingers_look_plainer(seed, number, rotor):
    reading, seen = judged(seed, seed * 10_000 + 5000 + number, rotor, None)
    states = {bar.bar: bar.state for bar in seen.bars if bar.rotor == rotor}
    assert states == {"upper": "along", "lower": "across"}
    assert reading.state == "legal"
    assert (reading.upper.state, reading.lower.state) == ("along", "across")


def cut_off(share: float, method: Method, *, contradicts: bool = False) -> tuple[RotorReading, Rendered]:
    """A rotor cut by the picture's left edge at `share` of its radius from its middle, its upper bar level."""
    layout = load_layout(as_bytes(random_layout(44, 3)))
    rotor, size = layout.rotors[0], (1280, 960)
    level = seen_from_above(layout, size)
    place = level.project(np.array([[*rotor.centre_mm, 0.0]]))[0]
    edge = share * rotor.drum_radius_mm * level.px_per_mm(layout.middle_mm)
    aside = np.array([(edge - place[0]) / level.px_per_mm(layout.middle_mm), 0.0, 0.0])
    camera = replace(level, tvec=level.tvec + aside)
    upper = {one.id: one.finger_axis_deg for one in layout.rotors}
    lower = {name: angle + (45.0 if contradicts else 90.0) for name, angle in upper.items()}
    scene = invented(44, 3).scene({}, camera=camera, upper_deg=upper, lower_deg=lower)
    seen = render(scene)
    evidence = examine(seen.pixels, camera, rotor, method)
    assert isinstance(evidence, Evidence)
    return judge(evidence, layout.angle_band), seen


@pytest.mark.parametrize("share", [0.6, 0.4])
def test_a_rotor_cut_by_the_picture_is_read_where_tags_hold_it_and_less_surely(share):
    whole, _ = cut_off(1.2, "tags")
    held, seen = cut_off(share, "tags")
    upper = next(bar for bar in seen.bars if (bar.rotor, bar.bar) == (held.upper.rotor, "upper"))
    assert 0.45 < upper.visible < 0.9
    assert (held.upper.state, held.lower.state) == ("along", "across")
    assert held.upper.sigma_deg > whole.upper.sigma_deg * 1.3
    assert abs((held.upper.angle_deg - upper.angle_deg + 90) % 180 - 90) < 2 * held.upper.sigma_deg
    loose, _ = cut_off(share, "structure")
    assert loose.upper.state == "unreadable"
    assert "cut by the edge" in loose.reason


def test_a_contradiction_at_the_pictures_edge_is_no_call():
    for share in (0.6, 0.3):
        reading, _ = cut_off(share, "tags", contradicts=True)
        assert reading.state not in ("legal", "between")
        assert not {reading.upper.state, reading.lower.state} & {"along", "across"}
