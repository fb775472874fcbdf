"""Measures both bars of a rotor: where they lie, and how much of the picture bears that out.

The two bars of a rotor are at right angles but for a little play, so their edges are sought together: for
each angle the coherence of the upper bar's long edges is added to that of the lower bar's a quarter turn
on, each on a patch rectified at its own height. The peak is then refined on coherence times the root of
strength. Fitting lines to the pieces of each bar by itself is no better: fingers and shadow edges beside
one bar pull its line, and the other bar holds against them.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from vision.angles import apart, wrapped
from vision.camera import Camera
from vision.edges import Outlines, Support, support
from vision.faces import face_contrast
from vision.layout import RotorPlan
from vision.outlines import ANGLES_DEG, lower_edges, upper_edges
from vision.patch import Patch, cut

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

PLAY_DEG = 3  # the bars of one rotor stand square to each other within this
# The lower bar shows two short ends beside fingers and disc; in the refinement it counts half.
_LOWER_SHARE = 0.5
_FINE_STEP_DEG, _AWAY_DEG = 0.5, 15.0
# A piece of an outline of which less lies in the picture is not measured; coherence where no edge is, in the middle.
_SEEN_LEAST, _CHANCE = 0.9, 0.5
_FINE_DEG = np.arange(-8.0, 8.01, _FINE_STEP_DEG)
_REFINED = (
    np.abs(_FINE_DEG) <= 5.0
)  # the common peak is refined within this; a bar by itself may lie further off


@dataclass(frozen=True)
class BarMeasure:
    """One bar as measured.

    Attributes
    ----------
    angle_deg : float
        Angle in the plan modulo 180, from both bars together.
    alone_deg : float
        Angle of the strongest outline of this bar alone within 8 degrees of it.
    coherence, strength : float
        Mean over the pieces of the outline; strength in Lab units a millimetre.
    weakest_end : float
        Coherence of the worse of the bar's two ends: low where one end is hidden.
    faintest_end : float
        Strength of the fainter of the two ends.
    own_angle_deg : float
        Where this bar alone would be put.
    own_ratio : float
        This bar's own peak against its best value more than 15 degrees away.
    rival_ratio : float
        Coherence at the common angle against the best more than 15 degrees away from everything that explains edges:
        this angle, the other bar and the fingers. A bar that truly lies elsewhere keeps it near 1 or under.
    rival_figure : float
        The same of coherence times the root of strength: a faint chance edge is no rival to a plain one.
    share : float
        Coherence at the common angle against this bar's own peak, 0 to 1.
    inside : float
        Share of the outline within the picture.
    one_sided : float
        How unevenly its two ends lie in the picture: 0 where both do, 1 where one is lost.
    clipped : float
        Share of the bar's pixels at the white end.

    """

    angle_deg: float
    alone_deg: float
    coherence: float
    strength: float
    weakest_end: float
    faintest_end: float
    own_angle_deg: float
    own_ratio: float
    rival_ratio: float
    rival_figure: float
    share: float
    inside: float
    one_sided: float
    clipped: float


@dataclass(frozen=True)
class RotorMeasure:
    """Both bars of a rotor; `joint_ratio`: their common peak against its best rival 15 degrees off.

    `lower_face` is how far the lower bar's face differs from what lies beside it (`faces.face_contrast`).
    """

    upper: BarMeasure
    lower: BarMeasure
    joint_ratio: float
    joint_angle_deg: float
    lower_face: float

    @property
    def bars(self) -> tuple[BarMeasure, BarMeasure]:
        """Both, the upper first."""
        return (self.upper, self.lower)


@lru_cache(maxsize=128)
def _edges(rotor: RotorPlan, bar: str, every: float) -> Outlines:
    angles = np.arange(0.0, 180.0, every)
    return upper_edges(rotor, angles) if bar == "upper" else lower_edges(rotor, angles)


def _widened(curve: Floats) -> Floats:
    """Best value within the play: the partner bar may stand a little off square."""
    return np.asarray(np.max([np.roll(curve, shift) for shift in range(-PLAY_DEG, PLAY_DEG + 1)], axis=0))


def _away(curve: Floats, peak: int) -> float:
    """Best value of a curve away from a peak."""
    return float(curve[apart(ANGLES_DEG, float(peak)) > _AWAY_DEG].max())


def _unexplained(curve: Floats, rotor: RotorPlan, angle_deg: float) -> float:
    """Best value of a bar's curve where neither the bar at an angle, nor its partner, nor the fingers draw edges."""
    explained = (angle_deg, angle_deg + 90.0, rotor.finger_axis_deg)
    elsewhere = np.all([apart(ANGLES_DEG, angle) > _AWAY_DEG for angle in explained], axis=0)
    return float(curve[elsewhere].max())


def measure(pixels: Pixels, camera: Camera, rotor: RotorPlan, shift_mm: Floats) -> RotorMeasure:
    """Measure both bars of a rotor whose middle lies `shift_mm` off its place in the plan."""
    centre = np.array(rotor.centre_mm) + shift_mm
    radius = max(rotor.drum_radius_mm, rotor.lower.length_mm / 2, rotor.upper.length_mm / 2) + 1.5
    patches = [cut(pixels, camera, centre, bar.z_mm, radius) for bar in rotor.bars]
    around = [_support(p, _edges(rotor, b.id, 1.0)) for p, b in zip(patches, rotor.bars, strict=True)]
    curves = [s.coherence.mean(axis=1) for s in around]
    scaled = [curve / max(float(np.median(curve)), 1e-6) for curve in curves]
    joint = scaled[0] + np.roll(_widened(scaled[1]), -90)
    peak = int(joint.argmax())
    supports = [
        _support(patch, _near(rotor, bar.id, peak + turn))
        for patch, bar, turn in zip(patches, rotor.bars, (0, 90), strict=True)
    ]
    figures = [_figure(s) for s in supports]
    both = sum(w * f / max(float(f.max()), 1e-9) for w, f in zip((1.0, _LOWER_SHARE), figures, strict=True))
    turn = _top(np.where(_REFINED, both, 0.0))
    bars = [
        _bar(patch, rotor, bar.id, everywhere, found, peak + square, turn)
        for patch, bar, everywhere, found, square in zip(
            patches, rotor.bars, around, supports, (0, 90), strict=True
        )
    ]
    return RotorMeasure(
        bars[0],
        bars[1],
        float(joint[peak] / max(_away(joint, peak), 1e-6)),
        wrapped(peak + turn),
        face_contrast(patches[1], rotor, bars[1].angle_deg),
    )


def _support(patch: Patch, outlines: Outlines) -> Support:
    """Measure outlines; a piece out of the picture, where the border's pixels go on for ever, counts as chance does."""
    found = support(patch, outlines)
    out = found.seen < _SEEN_LEAST
    if not out.any():
        return found
    shown = np.maximum((~out).sum(axis=1), 1)
    mean = np.where(out, 0.0, found.strength).sum(axis=1) / shown
    return Support(
        np.where(out, _CHANCE, found.coherence), np.where(out, mean[:, None], found.strength), found.seen
    )


def _figure(found: Support) -> Floats:
    """Coherence times the root of strength, of each candidate."""
    return np.asarray(found.coherence.mean(axis=1) * np.sqrt(found.strength.mean(axis=1)))


def _near(rotor: RotorPlan, bar: str, peak_deg: int) -> Outlines:
    fine = _edges(rotor, bar, _FINE_STEP_DEG)
    picks = np.rint((peak_deg + _FINE_DEG) / _FINE_STEP_DEG).astype(int) % len(fine.points)
    return Outlines(fine.points[picks], fine.normals[picks])


def _top(figure: Floats) -> float:
    """Turn at the top of a curve over `_FINE_DEG`, between samples by the parabola through three of them."""
    k = int(figure.argmax())
    if not 0 < k < len(figure) - 1:
        return float(_FINE_DEG[k])
    low, mid, high = figure[k - 1 : k + 2]
    bend = low - 2 * mid + high
    step = 0.5 * (low - high) / bend if bend < 0 else 0.0
    return float(_FINE_DEG[k] + _FINE_STEP_DEG * np.clip(step, -0.5, 0.5))


def _bar(  # noqa: PLR0913 - one bar's part of what was measured on both
    patch: Patch,
    rotor: RotorPlan,
    bar: str,
    around: Support,
    found: Support,
    peak: int,
    turn: float,
) -> BarMeasure:
    at = int(np.clip(np.rint((turn - _FINE_DEG[0]) / _FINE_STEP_DEG), 0, len(_FINE_DEG) - 1))
    curve, figure = around.coherence.mean(axis=1), _figure(found)
    own, plain = int(curve.argmax()), (around.coherence * np.sqrt(around.strength)).mean(axis=1)
    here = round(peak + turn) % len(ANGLES_DEG)
    pieces = found.coherence.shape[1] // 2
    ends = [found.coherence[at, :pieces], found.coherence[at, pieces:]]
    faint = [found.strength[at, :pieces], found.strength[at, pieces:]]
    return BarMeasure(
        angle_deg=wrapped(peak + turn),
        alone_deg=wrapped(peak + _top(figure)),
        coherence=float(found.coherence[at].mean()),
        strength=float(found.strength[at].mean()),
        weakest_end=float(min(end.mean() for end in ends)),
        faintest_end=float(min(end.mean() for end in faint)),
        own_angle_deg=float(own),
        own_ratio=float(curve[own] / max(_away(curve, own), 1e-6)),
        rival_ratio=float(found.coherence[at].mean() / max(_unexplained(curve, rotor, peak + turn), 1e-6)),
        rival_figure=float(plain[here] / max(_unexplained(plain, rotor, peak + turn), 1e-6)),
        share=float(found.coherence[at].mean() / max(float(curve[own]), 1e-6)),
        inside=float(found.seen[at].mean()),
        one_sided=_uneven(*(float(end.mean()) for end in (found.seen[at, :pieces], found.seen[at, pieces:]))),
        clipped=_clipped(patch, _near(rotor, bar, peak).points[at]),
    )


def _uneven(one: float, other: float) -> float:
    return abs(one - other) / max(one + other, 1e-6)


def _clipped(patch: Patch, outline: Floats) -> float:
    """Share of white pixels along the outline and on the bar's axis inside it."""
    points = np.concatenate([outline.reshape(-1, 2), 0.5 * outline.reshape(-1, 2)])
    columns = np.rint(points[:, 0] * patch.px_per_mm + patch.half).astype(int)
    rows = np.rint(patch.half - points[:, 1] * patch.px_per_mm).astype(int)
    last = patch.clipped.shape[0] - 1
    return float(patch.clipped[np.clip(rows, 0, last), np.clip(columns, 0, last)].mean())
