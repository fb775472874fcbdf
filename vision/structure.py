"""Finds a switch by its own structure: the whole plan as a template, then constellations of its rotors.

The template (`search`) gives starts, the constellation (`constellation`) leads them to where rotors are seen, and one
camera is then fitted to rims, finger blocks, marks and any tag corners together (`settling`). Few starts are led first:
a clear photo needs no more, and what is sure ends the search.
"""

from functools import cached_property

import numpy as np
import numpy.typing as npt

from vision.align import Edges, Effort, align, edges_of
from vision.camera import Camera
from vision.candidate import Candidate
from vision.constellation import Led, led, led_on, scored, sprung
from vision.layout import Layout
from vision.photo import decode
from vision.placement import NO_CORNERS, Corners
from vision.search import Finder
from vision.settling import Settling
from vision.sketch import Sketch, sketch_of, thinned

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

# Agreement of the whole plan's template under which a photo shows no edges to speak of (a wall, a black frame);
# right places reach 4 and more.
TEMPLATE_LEAST = 2.0
# Merit at which the best place must have arrived for being led on once more to be of use.
HOPE_LEAST = 0.235
# Starts of the template; how many maps of them are laid, how many leads made of these are kept and drawn; and at first
# how few of each.
_STARTS, _LAID, _LED = 24, 12, 10
_FEW_STARTS, _FEW_LAID, _FEW_DRAWN = 8, 4, 3
# How many finds are settled of what was led on, and at first and again from there.
_TRIED, _LIKELY = 5, 2
# Finds are settled from this share of the best one's agreement on, and where they lie so far apart.
# At first only those are that come nearer: a likely find a few millimetres off may settle surely, too.
_SCORE_SHARE, _ALIKE_SHARE, _SAME_PX = 0.75, 0.92, 4.0
# How much is searched around what tags give.
_BY_TAGS = Effort(searched=4, finds=2)


class Structure:
    """Finds one layout, which must have a reference photo, without its tags; prepared on first use."""

    def __init__(self, layout: Layout) -> None:
        if layout.reference is None:
            raise ValueError("A layout without a reference photo cannot be searched for.")
        self._layout = layout
        self._reference = layout.reference

    @cached_property
    def _finder(self) -> Finder:
        return Finder(self._layout)

    @cached_property
    def _sketch(self) -> Sketch:
        return sketch_of(self._layout, decode(self._reference.photo))

    @cached_property
    def _few(self) -> Sketch:
        return thinned(self._sketch)

    def prepare(self) -> None:
        """Draw templates and sketch now, and not with the first photo."""
        _ = self._finder, self._few

    def search(self, pixels: Pixels, *, thorough: bool = True) -> Candidate | None:
        """Search the whole photo; the best place found, believed or not, or None where it shows nothing.

        The best few starts of the template are led first, then all; where that leads to nothing sure, a thorough search
        leads on what they found, and once more from where it was settled.
        """
        starts = self._finder.candidates(pixels, _STARTS)
        if not starts or starts[0].score < TEMPLATE_LEAST:
            return None
        cameras, edges = [start.camera for start in starts], edges_of(pixels)
        settling = Settling(self._layout, self._sketch, self._few, pixels, edges)
        found = self._led(cameras[:_FEW_STARTS], edges, _FEW_LAID, _FEW_DRAWN)
        settling.side_by_side(self._worth(found, _LIKELY, _ALIKE_SHARE))
        if thorough and not settling.best.sure:
            found = self._led(cameras, edges, _LAID, _LED)
            settling.side_by_side(self._worth(found, _LIKELY, _ALIKE_SHARE))
            self._led_on(settling, edges, found)
        return settling.drawn_again(settling.best)

    def _led(self, starts: list[Camera], edges: Edges, laid: int, drawn: int) -> list[Led]:
        """Lead starts to where rotors are seen, and draw about the best of these; best first."""
        found = led(starts, self._few, edges.middle, edges.size, self._layout.middle_mm, _LED, laid)
        return self._drawn(found, edges, drawn)

    def _drawn(self, found: list[Led], edges: Edges, count: int) -> list[Led]:
        """Score leads anew on fine edges, and draw about the best of them; best first.

        On small pictures a place a few millimetres off agrees as well as the right one, or better.
        """
        again = scored([one.camera for one in found], self._few, edges.fine)
        middle_mm = self._layout.middle_mm
        return _best_first(
            again + [sprung(one.camera, self._few, edges.fine, middle_mm) for one in again[:count]]
        )

    def _led_on(self, settling: Settling, edges: Edges, found: list[Led]) -> None:
        """Lead finds on and draw around them, and do so again from where the best were settled."""
        if settling.best.sure:
            return
        on = self._on([one.camera for one in found], edges, _LED)
        settling.side_by_side(self._worth(found + self._drawn(on, edges, _TRIED), _TRIED))
        if settling.best.sure or settling.best.merit < HOPE_LEAST:
            return
        settled = [candidate.placed.camera for candidate in settling.tried[:_LIKELY]]
        on = self._on(settled, edges, _LIKELY)
        settling.side_by_side(self._worth(self._drawn(on, edges, _LIKELY), _LIKELY))

    def _on(self, cameras: list[Camera], edges: Edges, count: int) -> list[Led]:
        return led_on(cameras, self._few, edges.middle, edges.size, self._layout.middle_mm, count)

    def near(self, pixels: Pixels, cameras: list[Camera], corners: Corners) -> Candidate:
        """Search around cameras that one or two tags give, whose corners count in the fit."""
        edges = edges_of(pixels)
        settling = Settling(self._layout, self._sketch, self._few, pixels, edges)
        finds = align(edges, cameras, self._sketch, self._layout.middle_mm, _BY_TAGS)
        return max((settling.settled(find.camera, corners) for find in finds), key=lambda one: one.merit)

    def at(self, pixels: Pixels, camera: Camera, corners: Corners = NO_CORNERS) -> Candidate:
        """Settle a camera where it stands."""
        settling = Settling(self._layout, self._sketch, self._few, pixels, edges_of(pixels))
        return settling.settled(camera, corners)

    def _worth(self, finds: list[Led], count: int, share: float = _SCORE_SHARE) -> list[Camera]:
        """The best finds that differ, without those whose landmarks agree much less than the best's."""
        best = max(find.score for find in finds)
        corners = self._layout.middle_mm + np.array([[0.0, 0, 0], [20, 0, 0], [0, 20, 0]])
        kept: list[tuple[Camera, Floats]] = []
        for find in _best_first([find for find in finds if find.score >= share * best]):
            at = find.camera.project(corners)
            if all(np.abs(at - other).max() > _SAME_PX for _, other in kept):
                kept.append((find.camera, at))
        return [camera for camera, _ in kept[:count]]


def _best_first(found: list[Led]) -> list[Led]:
    return sorted(found, key=lambda one: -one.score)
