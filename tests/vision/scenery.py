"""Invented switches for tests: a random layout with its reference photo, and photos of it with exact truth."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from vision import Layout, Reader, load_layout
from vision.camera import Camera, from_similarity
from vision.canvas import Light
from vision.phone import Exposure
from vision.render import Rendered, layout_with_reference, render
from vision.scenes import Look, Scene, Spoil, as_bytes, random_layout, random_look

CLEAR = Exposure(noise=0.006, gain=1.1, quality=90)
EVEN = Light(np.array([0.35, -0.3]), 0.3, 0.6)


@dataclass(frozen=True)
class Switch:
    """One invented switch type with its reader."""

    layout: Layout
    look: Look
    reader: Reader

    def scene(self, along: dict[str, str], *, tags: bool = True, **changes) -> Scene:
        """A clear photo; `along` says per rotor which bar lies along its fingers."""
        upper = {
            r.id: r.finger_axis_deg + (0 if along.get(r.id, "upper") == "upper" else 90)
            for r in self.layout.rotors
        }
        scene = Scene(
            layout=self.layout,
            look=self.look,
            camera=seen_from_above(self.layout, (1280, 960)),
            size=(1280, 960),
            light=EVEN,
            shot=CLEAR,
            upper_deg=upper,
            lower_deg={name: angle + 90 for name, angle in upper.items()},
            unit=3,
            tags=tags,
            torch=(0.5, 0.5, 0.3),
            seed=11,
            spoil=Spoil(),
        )
        return replace(scene, **changes)

    def photo(self, along: dict[str, str], **changes) -> Rendered:
        """Render that photo."""
        return render(self.scene(along, **changes))


def seen_from_above(
    layout: Layout, size: tuple[int, int], *, roll: float = 0.0, tilt: float = 0.0, share: float = 0.8
) -> Camera:
    """A camera over the plan's middle, tilted about the picture's x axis (degrees), the plan filling a share of it."""
    scale = share * min(size[0] / layout.plan_size_mm[0], size[1] / layout.plan_size_mm[1])
    middle = (np.array(size) - 1) / 2
    level = from_similarity(size, roll, scale, middle, layout.middle_mm)
    c, s = np.cos(np.radians(tilt)), np.sin(np.radians(tilt))
    rotation = np.array([[1, 0, 0], [0, c, -s], [0, s, c]]) @ level.rotation
    from vision.camera import rotation_vector

    place = np.array([0.0, 0.0, level.f_px / scale])
    return replace(level, rvec=rotation_vector(rotation), tvec=place - rotation @ layout.middle_mm)


@cache
def invented(seed: int, rotors: int, *, marks: bool = True, changes: str = "") -> Switch:
    """A switch type from a seed, with a reference photo from high above; `changes` names a twist of the layout."""
    described = random_layout(seed, rotors, marks=marks)
    if changes == "twofold":
        described = twofold(described)
    look = random_look(seed)
    bare = load_layout(as_bytes(described))
    scale = 0.9 * min(1280 / bare.plan_size_mm[0], 960 / bare.plan_size_mm[1])
    level = from_similarity((1280, 960), 0.0, scale, np.array([639.5, 479.5]), bare.middle_mm)
    high = np.array([0.0, 0.0, 9000.0 / scale])
    camera = replace(level, f_px=9000.0, tvec=high - level.rotation @ bare.middle_mm)
    switch = Switch(bare, look, None)  # type: ignore[arg-type]
    scene = switch.scene({}, tags=False, camera=camera, unit=0)
    seen = render(scene)
    layout = load_layout(as_bytes(layout_with_reference(described, scene)), seen.photo)
    return Switch(layout, look, Reader(layout))


def twofold(described: dict) -> dict:
    """Make a layout that repeats wholly when turned by 180 degrees: two rotors, and their images in a second half."""
    width, height = 2 * described["plan_size_mm"][0], described["plan_size_mm"][1]
    first, second = described["rotors"][:2]
    images = []
    for number, rotor in enumerate((second, first)):
        name = f"R{number + 3}"
        x, y = rotor["centre_mm"]
        bars = [
            {
                **bar,
                "contacts": [{**c, "id": f"{name}-{bar['id']}-{i}"} for i, c in enumerate(bar["contacts"])],
            }
            for bar in rotor["bars"]
        ]
        images.append({**rotor, "id": name, "centre_mm": [width - x, height - y], "bars": bars})
    places = [(x, y) for y in (6.0, height - 6.0) for x in (6.0, width / 2, width - 6.0)]
    items = [
        {**tag, "centre_mm": list(at)} for tag, at in zip(described["tags"]["items"], places, strict=True)
    ]
    return {
        **described,
        "plan_size_mm": [width, height],
        "rotors": [first, second, *images],
        "tags": {**described["tags"], "items": items},
        "way_up_marks": [],
        "nearly_symmetric": True,
    }
