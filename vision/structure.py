"""Finds a switch by its own structure: the whole plan as a template, then its sketch laid on the photo's edges.

The template (`search`) gives starts, the sketch (`align`) moves them into place, and one camera is then fitted
to rims, finger blocks, marks and any tag corners together. A place is believed only where circles, or finger
blocks where light spoils the circles, bear it out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from vision.align import Aligned, Edges, Effort, align, edges_of
from vision.camera import Camera
from vision.constellation import Led, led, led_on, sprung
from vision.layout import Layout
from vision.photo import decode
from vision.placement import NO_CORNERS, Corners, Placed, settle
from vision.search import Finder
from vision.sketch import NO_VIEW, Nudges, Sketch, agreement, nudges, one_view, sketch_of, thinned

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Pixels = npt.NDArray[np.uint8]

# Median circle coherence over the rotors in view under which circles do not bear a place out. Right places
# reach 1.3 and more.
FOUND_SCORE = 1.2
# Figure of merit of a settled camera: mean agreement of landmarks (0 to 1) and a tenth of the mean circle
# coherence (0 to 2). Right places mostly reach 0.31, wrong ones 0.29 at most. Below it the search goes on.
MERIT_SURE, CIRCLE_SHARE = 0.335, 0.1
# Mean agreement under which nothing was found.
AGREEMENT_LEAST = 0.14
# Mean agreement of finger blocks alone: rightly placed photos of other units and lamps reach 0.06 and more, half of
# the wrongly placed ones stay below. It keeps out foreign parts with round things on them.
FINGERS_LEAST = 0.08
# Where blocks and landmarks agree this well, circles need not.
FINGERS_SURE, AGREEMENT_SURE = 0.13, 0.16
# Where all landmarks together agree this well, blocks need no more than this: one may be hidden or look otherwise.
AGREEMENT_PLAIN, FINGERS_PLAIN = 0.18, 0.05
# Agreement of the blocks of all rotors but the best one, and merit, under which the mirrored photo is searched, too:
# where a tilt makes up for what differs in the plan, circles and the blocks of one rotor may fit. Of 100 mirrored
# renders none reached both; of 67 photos rightly placed without tags (50 renders, 17 dev photos) five stay below the
# one, eight below the other, one below both. Where both lie below, nothing is believed.
BLOCKS_PLAIN, MERIT_PLAIN = 0.12, 0.31
# A rotor is confirmed from this coherence of its circles (0 to 2), or from this agreement of its own finger blocks.
CONFIRMED, CONFIRMED_BLOCKS = 1.2, 0.2
# Agreement of the whole plan's template under which a photo shows no edges to speak of (a wall, a black frame);
# right places reach 4 and more.
TEMPLATE_LEAST = 2.0
# A start is settled so often, and so far is looked for circles and bars each time.
_REACHES_MM = (1.5, 0.8, 0.8)
# A finger block or mark counts as a measured point from this agreement on. Blocks differ in height and make
# by a millimetre or two; marks are fixed and their heights known.
POINT_AGREEMENT = 0.12
POINT_SIGMA_MM = {"finger": 1.2, "mark": 0.6}
# A landmark is in its place within this: heights of blocks differ.
_IN_PLACE_MM = 1.2
# Sigma of the sine of the tilt in the fit: rims and blocks of few rotors hold the tilt only loosely.
_TILT_SIGMA = 0.5
# Starts of the template, how many the constellation of rotors makes of them, how many of these are settled, how many
# at first and again from there, and how many starts are thrown about.
_CANDIDATES, _LED, _TRIED, _LIKELY, _AS_FOUND = 24, 10, 5, 2, 12
# Finds are settled from this share of the best one's agreement on, and where they lie so far apart.
# At first only those are that come nearer: a likely find a few millimetres off may settle surely, too.
_SCORE_SHARE, _ALIKE_SHARE, _SAME_PX = 0.75, 0.92, 4.0
# What settling wholly may gain in merit over settling once.
_GAINED = 0.02
# How much is searched: about the template's starts, and around what tags give.
_FIRST = Effort()
_BY_TAGS = Effort(searched=4, finds=2)


@dataclass(frozen=True)
class Candidate:
    """A settled camera and what bears it out.

    Attributes
    ----------
    agreement : float
        Mean agreement of all landmarks, each within a millimetre or so of its place, 0 to 1.
    fingers : float
        The same of the finger blocks that lie in the picture.
    most : float
        Agreement of finger blocks by rotor, the mean without the rotor whose blocks agree best.
    exact : float
        Agreement of the sketch exactly where the camera puts it; `NO_VIEW` for a view too flat to be meant.
    confirmed : tuple of str
        Rotors whose own circles or finger blocks bear their place out.

    """

    placed: Placed
    agreement: float
    fingers: float
    most: float
    exact: float
    confirmed: tuple[str, ...]

    @property
    def merit(self) -> float:
        """How well landmarks and circles bear this camera out together; nothing for a view too flat to be meant."""
        if self.exact <= NO_VIEW:
            return 0.0
        scores = [circles.score for circles in self.placed.circles.values()]
        return self.agreement + CIRCLE_SHARE * (float(np.mean(scores)) if scores else 0.0)

    @property
    def doubts(self) -> int:
        """How much speaks for a place that a tilt has made to fit, such as that of a mirrored photo; 0 to 2."""
        return (self.most < BLOCKS_PLAIN) + (self.merit < MERIT_PLAIN)

    @property
    def believed(self) -> bool:
        """True where circles, or finger blocks where light spoils the circles, bear the place out."""
        if self.agreement < AGREEMENT_LEAST or self.exact <= NO_VIEW or self.doubts > 1:
            return False
        least = FINGERS_LEAST if self.agreement < AGREEMENT_PLAIN else FINGERS_PLAIN
        by_circles = borne_out(self.placed) and self.fingers >= least
        return by_circles or (self.fingers >= FINGERS_SURE and self.agreement >= AGREEMENT_SURE)


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

    def prepare(self) -> None:
        """Draw templates and sketch now, and not with the first photo."""
        _ = self._finder, self._sketch

    def search(self, pixels: Pixels, *, thorough: bool = True) -> Candidate | None:
        """Search the whole photo; the best place found, believed or not, or None where it shows nothing.

        Where constellations of rotors lead to nothing sure, what they found is led on from where it was settled; where
        that is not sure either, a thorough search throws widely about the template's starts, too.
        """
        starts = self._finder.candidates(pixels, _CANDIDATES)
        if not starts or starts[0].score < TEMPLATE_LEAST:
            return None
        cameras, edges = [start.camera for start in starts], edges_of(pixels)
        few, middle_mm = thinned(self._sketch), self._layout.middle_mm
        found = led(cameras, few, edges.middle, edges.size, middle_mm, _LED)
        found = _best_leads(found + self._sprung(found, edges))
        tried = self._tried(pixels, edges, _worth(found, middle_mm, _LIKELY, _ALIKE_SHARE))
        if tried[0].merit < MERIT_SURE:
            tried = self._led_on(pixels, edges, found, tried)
        if thorough and tried[0].merit < MERIT_SURE:
            thrown = [find.camera for find in self._aligned(edges, cameras[:_AS_FOUND], _FIRST)]
            tried = _best_first(tried + self._tried(pixels, edges, thrown))
        return self._drawn_again(pixels, edges, tried[0])

    def _drawn_again(self, pixels: Pixels, edges: Edges, best: Candidate) -> Candidate:
        """Draw once more about where the best settled: rims that it settled on may be others than the plan's."""
        few, middle_mm = thinned(self._sketch), self._layout.middle_mm
        there = sprung(best.placed.camera, few, edges.middle, middle_mm)
        return max(best, self._settled(pixels, edges, there.camera), key=lambda candidate: candidate.merit)

    def _led_on(
        self, pixels: Pixels, edges: Edges, found: list[Led], tried: list[Candidate]
    ) -> list[Candidate]:
        """Lead finds on and draw around them, and do so again from where the best were settled; best first."""
        few, middle_mm = thinned(self._sketch), self._layout.middle_mm
        on = led_on([one.camera for one in found], few, edges.middle, edges.size, middle_mm, _LED)
        drawn = found + on + self._sprung(on[:_TRIED], edges)
        tried = _best_first(tried + self._tried(pixels, edges, _worth(drawn, middle_mm, _TRIED)))
        if tried[0].merit >= MERIT_SURE:
            return tried
        settled = [candidate.placed.camera for candidate in tried[:_LIKELY]]
        on = led_on(settled, few, edges.middle, edges.size, middle_mm, _LIKELY)
        drawn = on + self._sprung(on, edges)
        return _best_first(tried + self._tried(pixels, edges, _worth(drawn, middle_mm, _LIKELY)))

    def _sprung(self, found: Sequence[Led], edges: Edges) -> list[Led]:
        few = thinned(self._sketch)
        return [sprung(one.camera, few, edges.middle, self._layout.middle_mm) for one in found]

    def near(self, pixels: Pixels, cameras: list[Camera], corners: Corners) -> Candidate:
        """Search around cameras that one or two tags give, whose corners count in the fit."""
        edges = edges_of(pixels)
        finds = self._aligned(edges, cameras, _BY_TAGS)
        tried = [self._settled(pixels, edges, find.camera, corners) for find in finds]
        return max(tried, key=lambda c: c.merit)

    def at(self, pixels: Pixels, camera: Camera, corners: Corners = NO_CORNERS) -> Candidate:
        """Settle a camera where it stands."""
        return self._settled(pixels, edges_of(pixels), camera, corners)

    def _aligned(self, edges: Edges, starts: list[Camera], effort: Effort) -> list[Aligned]:
        return align(edges, starts, self._sketch, self._layout.middle_mm, effort)

    def _tried(self, pixels: Pixels, edges: Edges, cameras: Sequence[Camera]) -> list[Candidate]:
        """Settle cameras, best first; wholly only the best and what comes near it."""
        tried = _best_first(
            [self._settled(pixels, edges, camera, reaches_mm=_REACHES_MM[:1]) for camera in cameras]
        )
        wholly = [one for one in tried if one.merit >= tried[0].merit - _GAINED][:_LIKELY]
        return _best_first([self._on(pixels, edges, one) for one in wholly] + tried[len(wholly) :])

    def _on(self, pixels: Pixels, edges: Edges, candidate: Candidate) -> Candidate:
        return self._settled(pixels, edges, candidate.placed.camera, reaches_mm=_REACHES_MM[1:])

    def _settled(
        self,
        pixels: Pixels,
        edges: Edges,
        start: Camera,
        corners: Corners = NO_CORNERS,
        reaches_mm: tuple[float, ...] = _REACHES_MM,
    ) -> Candidate:
        """Settle a start on rims, bars, fingers, marks and tag corners together."""
        camera = start
        for reach in reaches_mm:
            found = nudges(self._sketch, camera, edges.fine, 2.5)
            points = corners.with_more(_points(self._sketch, found, camera))
            placed = settle(pixels, camera, self._layout, points, (reach,), tilt_sigma=_TILT_SIGMA)
            camera = placed.camera
        return self._candidate(placed, edges)

    def _candidate(self, placed: Placed, edges: Edges) -> Candidate:
        sketch = self._sketch
        near = nudges(sketch, placed.camera, edges.fine, _IN_PLACE_MM).agreement
        fingers = np.array(sketch.kinds) == "finger"
        weight = np.bincount(sketch.owner, sketch.weights, len(fingers))
        shown = _shown(sketch, placed.camera, edges.size) & fingers
        owners = np.array(sketch.owners)
        confirmed = tuple(
            rotor
            for rotor, circles in placed.circles.items()
            if circles.score >= CONFIRMED
            or float(near[(owners == rotor) & fingers].mean()) >= CONFIRMED_BLOCKS
        )
        return Candidate(
            placed,
            agreement=float((near * weight).sum()),
            fingers=float(near[shown].mean()) if shown.any() else 0.0,
            most=_without_the_best(
                [
                    float(near[shown & (owners == rotor)].mean())
                    for rotor in placed.circles
                    if (shown & (owners == rotor)).any()
                ]
            ),
            exact=float(agreement(sketch, one_view(placed.camera), edges.fine)[0]),
            confirmed=confirmed,
        )


def _best_first(tried: list[Candidate]) -> list[Candidate]:
    return sorted(tried, key=lambda candidate: -candidate.merit)


def _without_the_best(values: Sequence[float]) -> float:
    kept = sorted(values)[:-1] or values
    return float(np.mean(kept)) if kept else 0.0


def _best_leads(found: list[Led]) -> list[Led]:
    return sorted(found, key=lambda one: -one.score)


def _worth(finds: list[Led], middle_mm: Floats, count: int, share: float = _SCORE_SHARE) -> list[Camera]:
    """The best finds that differ, without those whose landmarks agree much less than the best's."""
    best = max(find.score for find in finds)
    ranked = _best_leads([find for find in finds if find.score >= share * best])
    corners = middle_mm + np.array([[0.0, 0, 0], [20, 0, 0], [0, 20, 0]])
    kept: list[tuple[Camera, Floats]] = []
    for find in ranked:
        at = find.camera.project(corners)
        if all(np.abs(at - other).max() > _SAME_PX for _, other in kept):
            kept.append((find.camera, at))
    return [camera for camera, _ in kept[:count]]


def borne_out(placed: Placed) -> bool:
    """Say whether half of the rotors in view show their circles where a camera puts them."""
    scores = [circles.score for circles in placed.circles.values()]
    return bool(scores) and float(np.median(scores)) >= FOUND_SCORE


def _points(sketch: Sketch, found: Nudges, camera: Camera) -> Corners:
    """Finger blocks and marks that stand out near their places, as loosely known points."""
    kinds = np.array(sketch.kinds)
    used = (kinds != "ring") & found.peak & (found.agreement >= POINT_AGREEMENT)
    plan = sketch.anchors[used].astype(np.float64)
    sigmas = [
        POINT_SIGMA_MM[kind] * camera.px_per_mm(at)
        for kind, at in zip(kinds[used].tolist(), plan, strict=True)
    ]
    return Corners(plan, found.at_px[used], np.array(sigmas))


def _shown(sketch: Sketch, camera: Camera, size: tuple[int, int]) -> Bools:
    """Which landmarks lie in the picture."""
    x, y = camera.project(sketch.anchors.astype(np.float64)).T
    return np.asarray((x >= 0) & (y >= 0) & (x < size[0]) & (y < size[1]))
