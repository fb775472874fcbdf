"""Which bars are believed, on rendered rotors whose camera is known."""

import pytest

from vision import load_layout
from vision.evidence import Evidence, examine
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


@pytest.mark.parametrize(("seed", "number", "rotor"), [(7028, 2, "R2"), (7024, 6, "R2"), (7024, 6, "R4")])
def test_a_bar_across_is_read_although_the_fingers_look_plainer(seed, number, rotor):
    reading, seen = judged(seed, seed * 10_000 + 5000 + number, rotor, None)
    states = {bar.bar: bar.state for bar in seen.bars if bar.rotor == rotor}
    assert states == {"upper": "along", "lower": "across"}
    assert reading.state == "legal"
    assert (reading.upper.state, reading.lower.state) == ("along", "across")
