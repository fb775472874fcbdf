"""Whether a layout's fixed marks tell which way up the switch is seen, measured on its own straight photo."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from vision.camera import Camera
from vision.landmarks import Landmarks
from vision.layout import Layout
from vision.lookalikes import margin, moves

# By how much marks and fingers must agree better as they are than laid otherwise, on the layout's own photo. Where
# something tells, the figure is 0.18 to 0.35 there (26 layouts), else 0.00; a photo under another lamp keeps a third
# to a half of it, and the reader asks for 0.05 in each photo.
TELLS_FROM = 0.15


@dataclass(frozen=True)
class Lookalike:
    """Another way to lay the plan over rotors in view; `margin` says how well it is told from the right one."""

    in_view: tuple[str, ...]
    mirrored: bool
    swaps: tuple[tuple[str, str], ...]
    margin: float

    @property
    def told(self) -> bool:
        """Whether the switch's fixed features rule it out."""
        return self.margin >= TELLS_FROM


@dataclass(frozen=True)
class WayUp:
    """Every way to lay the plan otherwise, with the whole switch in view and with two rotors only."""

    whole: tuple[Lookalike, ...]
    pairs: tuple[Lookalike, ...]
    rotors: int

    @property
    def told(self) -> bool:
        """Whether a photo of the whole switch tells the way up, and that it is not mirrored."""
        return self.rotors > 1 and all(one.told for one in self.whole)

    @property
    def nearly_symmetric(self) -> bool:
        """Whether the rotors fall on each other when the plan is turned."""
        return any(not one.mirrored for one in self.whole)

    def in_words(self) -> str:
        """One sentence for whoever makes the layout."""
        if self.rotors < 2:
            return "One rotor alone does not tell how it is turned: photos of this switch are read with tags only."
        missed = [one for one in self.whole if not one.told]
        if any(not one.mirrored for one in missed):
            return (
                "Nothing tells which way up this switch is: its rotors fall on each other when it is turned, and no "
                "mark differs. Without tags only rotors that read the same both ways are called. Name way-up marks "
                "that lie off the middle, or use the tag frame."
            )
        if missed:
            return (
                "A mirrored photo (front camera) of this switch cannot be told from a right one, so photos without "
                "tags will be refused. Name way-up marks that lie off its axis, or use the tag frame."
            )
        lost = sorted({" and ".join(one.in_view) for one in self.pairs if not one.told})
        if lost:
            return (
                "The whole switch tells which way up it is; photos that show only "
                + ", or only ".join(lost)
                + " do not."
            )
        return "Which way up the switch is seen is told, also where only two rotors are in view."


def measure_way_up(layout: Layout, pixels: npt.NDArray[np.uint8], camera: Camera, marks: Landmarks) -> WayUp:
    """Compare every other way to lay the plan with the right one, on the photo that the layout was made from."""

    def found(names: Sequence[str]) -> tuple[Lookalike, ...]:
        return tuple(
            Lookalike(
                tuple(names),
                move.mirrored,
                tuple(sorted(move.swaps.items())),
                margin(pixels, camera, move, marks, layout),
            )
            for move in moves(layout, list(names))
        )

    names = [rotor.id for rotor in layout.rotors]
    pairs = combinations(names, 2) if len(names) > 2 else ()
    return WayUp(found(names), tuple(one for pair in pairs for one in found(pair)), len(names))
