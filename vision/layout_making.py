"""Makes a switch layout of one straight photo and the points that a person placed on it.

Each rotor is moved onto its circles where the photo shows them, its radii are measured there, and whether the way-up
marks tell is measured on the same photo.
"""

import json
from dataclasses import dataclass
from typing import Any

import numpy as np

from vision.camera import Camera
from vision.landmarks import Landmarks
from vision.layout import Layout
from vision.layout_file import load_layout
from vision.photo import Photo, decode
from vision.placed_points import PlacedPoints
from vision.placing import Placing, refuse_outside
from vision.rim_measure import CIRCLES_SEEN, measure_rims
from vision.telling import WayUp, measure_way_up

# Known distances that differ by more in their scale give a tilt away (or a slip): over a hand's breadth it is 3 mm.
SPREAD_MOST = 0.03


@dataclass(frozen=True)
class MadeRotor:
    """How one placed rotor met the photo: how far it was moved, millimetres, and its circles' coherence (0 to 2)."""

    id: str
    moved_mm: float
    circles: float

    @property
    def seen(self) -> bool:
        """Whether its circles were found where it was placed."""
        return self.circles >= CIRCLES_SEEN


@dataclass(frozen=True)
class MadeLayout:
    """A new layout: the file's bytes, the layout itself, the photo with the camera it was measured with."""

    text: bytes
    layout: Layout
    photo: Photo
    camera: Camera
    rotors: tuple[MadeRotor, ...]
    way_up: WayUp
    spread: float | None

    def warnings(self) -> list[str]:
        """What the maker should look at again, in sentences."""
        told = [
            f"{rotor.id}: no circles are seen where it was placed; check its centre and its rims."
            for rotor in self.rotors
            if not rotor.seen
        ]
        if self.spread is not None and self.spread > SPREAD_MOST:
            told.append(
                f"The known distances disagree by {100 * self.spread:.1f} %: the photo is not from straight above, or "
                "a point slipped. Take it from further away and straighter, or fit the tag frame and give tag_size_mm."
            )
        return told


def make_layout(points: PlacedPoints, photo: bytes, photo_name: str) -> MadeLayout:
    """Make a layout.

    Parameters
    ----------
    points : PlacedPoints
        What was placed, in pixels of the photo as shown.
    photo : bytes
        The photo, which becomes the layout's reference.
    photo_name : str
        Its file name beside the layout.

    Raises
    ------
    LayoutRefusal
        A point lies outside the picture, or the points contradict each other; `field` names it.
    PhotoRefusal
        The photo's bytes cannot be used.

    """
    decoded = decode(photo)
    refuse_outside(points, decoded)
    place = Placing(points, decoded)
    first = load_layout(_as_bytes(place.described(photo_name)), photo)
    rims = {rotor.id: measure_rims(decoded.pixels, place.camera, rotor) for rotor in first.rotors}
    described = place.described(photo_name, rims)
    layout = load_layout(_as_bytes(described), photo)
    way_up = measure_way_up(layout, decoded.pixels, place.camera, Landmarks(layout, decoded))
    described["nearly_symmetric"] = way_up.nearly_symmetric
    text = _as_bytes(described)
    rotors = tuple(
        MadeRotor(name, float(np.hypot(*rim.shift_mm)), rim.coherence) for name, rim in rims.items()
    )
    return MadeLayout(text, load_layout(text, photo), decoded, place.camera, rotors, way_up, place.spread)


def _as_bytes(described: dict[str, Any]) -> bytes:
    return json.dumps(described, indent=1).encode()
