"""Examines one rotor of a found switch: puts it onto its circles, measures its bars, focus and light."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from vision.bars import BarMeasure, RotorMeasure, measure
from vision.camera import Camera
from vision.circles import Circles, find, view
from vision.layout import RotorPlan
from vision.placement import INSIDE_NEEDED, in_view
from vision.quality import Quality, quality_of
from vision.reasons import Reason

Pixels = npt.NDArray[np.uint8]
Method = Literal["tags", "tags and structure", "structure"]

# Circle coherence under which a place held by tags is not shifted: such circles are as often chance as not.
CIRCLES_SHIFT = 1.15
# A rotor is placed again by its circles within this of where the camera puts it, and every square millimetre costs it
# `_LAST_FAR_COST` of coherence: the camera is fitted to all rotors, which cannot move in the plan, and a lone circle
# further off is mostly another one.
_LAST_FAR_COST = 0.3
_LAST_SHIFT_MM: dict[Method, float] = {"tags": 1.0, "tags and structure": 1.5, "structure": 2.0}


@dataclass(frozen=True)
class Evidence:
    """What is known of one rotor: its circles, its bars, focus and light there, and whether tags hold its place."""

    rotor: RotorPlan
    circles: Circles
    measure: RotorMeasure
    quality: Quality
    held_by_tags: bool = False

    def bar(self, name: str) -> BarMeasure:
        """Measure of the upper or the lower bar."""
        return self.measure.upper if name == "upper" else self.measure.lower

    @property
    def place(self) -> tuple[float, float]:
        """Where the rotor's middle was found, plan mm."""
        x, y = self.rotor.centre_mm
        return (x + float(self.circles.shift_mm[0]), y + float(self.circles.shift_mm[1]))


def examine(pixels: Pixels, camera: Camera, rotor: RotorPlan, method: Method) -> Evidence | Reason:
    """Measure a rotor under the camera that was found by `method`; the reason where it is not in the picture."""
    if not in_view(pixels, camera, rotor):
        return Reason.OUT_OF_VIEW
    reach = _LAST_SHIFT_MM[method]
    seen = view(pixels, camera, rotor, reach)
    circles = find(seen, reach, _LAST_FAR_COST)
    if circles.inside < INSIDE_NEEDED:
        return Reason.CUT
    held = method == "tags"
    if held and circles.score < CIRCLES_SHIFT:  # no circle to be placed on: the tags' own place is better
        circles = replace(circles, shift_mm=np.zeros(2))
    measured = measure(pixels, camera, rotor, circles.shift_mm)
    return Evidence(rotor, circles, measured, quality_of(seen.disc), held)
