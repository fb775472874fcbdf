"""A place where the switch may lie: a settled camera, and what bears it out.

Nothing bears a place out by itself. Any round thing shows circles, any grid of edges agrees with a sketch, and a tilt
can make a mirrored plan fit over its own rotors. What the circles, the finger blocks and all landmarks say together is
the evidence; weak evidence is not believed, and what is neither weak nor plain must outdo the mirrored photo.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vision.align import Edges
from vision.camera import Camera
from vision.placement import Placed
from vision.sketch import NO_VIEW, Sketch, agreement, nudges, one_view

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Median circle coherence over the rotors in view under which circles do not bear a place out. Right places
# reach 1.3 and more.
FOUND_SCORE = 1.2
# Figure of merit of a settled camera: mean agreement of landmarks (0 to 1) and a tenth of the mean circle
# coherence (0 to 2). Right places mostly reach 0.31.
CIRCLE_SHARE = 0.1
# Evidence is the merit, the agreement of finger blocks by rotor but for the best rotor, and where marks are seen,
# a share of how much better they agree than midway: marks at right places reach 0.29 nine times in ten, at wrong ones
# 0.25 once in ten. From the first bound on the search ends; a merit so high ends it, too.
MARK_SHARE, MARK_MIDWAY = 0.15, 0.25
EVIDENCE_SURE, MERIT_SURE = 0.5, 0.335
# Evidence that no place reaches that a tilt has made to fit, and under which nothing is believed; in between the
# mirrored photo is searched, too. Of 160 places that were right (own renders, many of them of hard layouts, and 36 dev
# photos) one in 20 is weak. Of 83 mirrored photos, left out those that the plan's own mirror image fits or where fewer
# than two rotors were confirmed, none came beyond 0.41, of 84 photos of another switch none beyond 0.40. Evidence is a
# mean over rotors, and many fit by chance less easily: with five in view none of 44 such places came beyond 0.34
# (but one on the right switch, ten millimetres off, did: 0.41).
EVIDENCE_PLAIN, EVIDENCE_LEAST, EVIDENCE_LEAST_MANY, _MANY_ROTORS = 0.48, 0.42, 0.37, 5
# Mean agreement under which nothing was found.
AGREEMENT_LEAST = 0.12
# Mean agreement of finger blocks alone: rightly placed photos of other units and lamps reach 0.06 and more, half of
# the wrongly placed ones stay below. It keeps out foreign parts with round things on them.
FINGERS_LEAST = 0.08
# Where all landmarks together agree this well, blocks need no more than this: one may be hidden or look otherwise.
AGREEMENT_PLAIN, FINGERS_PLAIN = 0.18, 0.05
# Where blocks agree this well, circles need not.
FINGERS_SURE = 0.13
# A rotor is confirmed from this coherence of its circles (0 to 2), or from this agreement of its own finger blocks.
CONFIRMED, CONFIRMED_BLOCKS = 1.2, 0.2
# A landmark is in its place within this: heights of blocks differ.
_IN_PLACE_MM = 1.2


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
        Agreement of finger blocks by rotor, the mean without the rotor whose blocks agree best, if there are others.
    marks : float
        Agreement of the way-up marks that lie in the picture; midway where none does.
    exact : float
        Agreement of the sketch exactly where the camera puts it; `NO_VIEW` for a view too flat to be meant.
    confirmed : tuple of str
        Rotors whose own circles or finger blocks bear their place out.

    """

    placed: Placed
    agreement: float
    fingers: float
    most: float
    marks: float
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
    def evidence(self) -> float:
        """Merit, blocks and marks together: circles and blocks of one rotor may fit by chance, hardly those of all."""
        return self.merit + self.most + MARK_SHARE * (self.marks - MARK_MIDWAY)

    @property
    def sure(self) -> bool:
        """True where a search need not go on."""
        return self.merit >= MERIT_SURE or self.evidence >= EVIDENCE_SURE

    @property
    def plain(self) -> bool:
        """True where it is believed on such evidence as no place has that only a tilt has made to fit."""
        return self.believed and self.evidence >= EVIDENCE_PLAIN

    @property
    def believed(self) -> bool:
        """True where circles, or finger blocks where light spoils the circles, bear the place out."""
        many = len(self.placed.circles) >= _MANY_ROTORS
        if self.evidence < (EVIDENCE_LEAST_MANY if many else EVIDENCE_LEAST):
            return False
        if self.agreement < AGREEMENT_LEAST or self.exact <= NO_VIEW:
            return False
        least = FINGERS_LEAST if self.agreement < AGREEMENT_PLAIN else FINGERS_PLAIN
        return self.fingers >= (least if borne_out(self.placed) else FINGERS_SURE)


def candidate_of(placed: Placed, sketch: Sketch, edges: Edges) -> Candidate:
    """Measure what bears a placed camera out."""
    near = nudges(sketch, placed.camera, edges.fine, _IN_PLACE_MM).agreement
    fingers, marks = (np.array(sketch.kinds) == kind for kind in ("finger", "mark"))
    weight = np.bincount(sketch.owner, sketch.weights, len(fingers))
    seen = _shown(sketch, placed.camera, edges.size)
    shown = seen & fingers
    owners = np.array(sketch.owners)
    confirmed = tuple(
        rotor
        for rotor, circles in placed.circles.items()
        if circles.score >= CONFIRMED or _mean(near[(owners == rotor) & fingers]) >= CONFIRMED_BLOCKS
    )
    by_rotor = [near[shown & (owners == rotor)] for rotor in placed.circles]
    return Candidate(
        placed,
        agreement=float((near * weight).sum()),
        fingers=_mean(near[shown]),
        most=_without_the_best([float(blocks.mean()) for blocks in by_rotor if len(blocks)]),
        marks=float(near[seen & marks].mean()) if (seen & marks).any() else MARK_MIDWAY,
        exact=float(agreement(sketch, one_view(placed.camera), edges.fine)[0]),
        confirmed=confirmed,
    )


def borne_out(placed: Placed) -> bool:
    """Say whether half of the rotors in view show their circles where a camera puts them."""
    scores = [circles.score for circles in placed.circles.values()]
    return bool(scores) and float(np.median(scores)) >= FOUND_SCORE


def _without_the_best(values: Sequence[float]) -> float:
    kept = sorted(values)[:-1] or values
    return _mean(np.array(kept))


def _mean(values: Floats) -> float:
    return float(values.mean()) if len(values) else 0.0


def _shown(sketch: Sketch, camera: Camera, size: tuple[int, int]) -> Bools:
    """Which landmarks lie in the picture."""
    x, y = camera.project(sketch.anchors.astype(np.float64)).T
    return np.asarray((x >= 0) & (y >= 0) & (x < size[0]) & (y < size[1]))
