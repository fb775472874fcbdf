"""From a rotor's measurements to its state, legal, between, impossible or unreadable, with the reason.

A bar is called only where its calibrated probability is high and it was itself seen. A rotor is legal where
both bars were called, one along and one across. Limits that are not in the calibration table say what they
keep out.
"""

import numpy as np

from vision.angles import apart
from vision.bars import BarMeasure
from vision.calibration import calibration, shares
from vision.evidence import Evidence
from vision.features import disagreement_deg, incoherence, off_square_deg, seen_figures, trust_figures
from vision.layout import AngleBand, RotorPlan
from vision.quality import BLUR_NAMED, DARK_LIGHTNESS, GLARE_SHARE
from vision.reading import BarReading, BarState, RotorReading
from vision.reasons import Reason

# A bar is called from this probability on. On rendered photos of layouts left out of the fit, spoilt ones included, it
# lets 2,407 bars through, two of them of another state; the bounds below stop these and leave 2,248, all right.
CALL_FROM = 0.96
# A bar is taken as seen from this probability on: hidden, greased and blurred bars whose partner gives the
# angle away.
SEEN_FROM = 0.5
# Circle coherence (both, 0 to 2) under which no rotor is seen at its place. Rotors in their place reach it in 96 of
# 100 cases, places 3 to 10 mm off in 42.
CIRCLES_LEAST = 1.0
# This share of a bar's outline must lie in the picture, lest an end is lost; half and a little more is enough where
# tags hold the rotor's place, whatever of it is seen. Of 37 readable bars cut so in rendered photos 29 are called, all
# right, and no rotor of 33 further bars, part way or contradictory, passes for legal.
INSIDE_LEAST, HELD_INSIDE_LEAST = 0.97, 0.55
# A bar seen on one side of the rotor's middle only turns about that middle: its place is known to this, and its edges
# lie in the mean this share of half its length away. Both ends together do not care.
_PLACE_MM, _LEVER = 0.2, 0.6
# Blur (sigma, in widths of the bar) beyond which nobody tells its edges: a blur disc of 0.75 widths has a
# sigma of 0.19, a quarter of its width.
BLUR_MOST = 0.19
# Two strong bars this far from square are a contradiction, not a misreading: their play is under 2 degrees.
SQUARE_DEG, STRONG_RATIO, STRONG_EDGE = 8.0, 1.25, 5.0
# A bar whose own best angle lies elsewhere is called only where its outline at the common angle is as plain as its
# best: a strong upper bar must not lend its angle to a lower bar that contradicts it.
OWN_PEAK_OFF_DEG, PLAIN_SHARE, PLAIN_COHERENCE = 12.0, 0.95, 0.8
# Fingers draw the long edges of a lower bar that lies along them: it is believed there only where no other place of its
# drum looks nearly as much like it, by coherence squared times the figure of coherence and strength, and where its own
# face shows between the fingers, unless it leads by far. Of 292 lower bars that lie elsewhere and were measured along
# under the true camera (154 of them painted before outlines were exact), 17 would be called without these bounds, two
# by the first alone (leads of 2.2, where a wire or the picture's edge hides an end of the true bar; faces of 8.7 and
# 9.8), none by both; of 879 readable ones that lie along the first costs 57, the second 14.
IMITATED_LEAD, FACE_LEAD, FACE_LEAST = 1.95, 3.0, 11.0
# They may also look plainer than a lower bar that lies across them; that speaks against it only where something else
# looks as plain. Of such bars that lie elsewhere, none of 69 passes 1.0.
ACROSS_RATIO = 1.0
# Within this of the finger axis, or of its normal, a bar lies along or across.
_NEAR_DEG = 15.0


def judge(evidence: Evidence, band: AngleBand) -> RotorReading:
    """Decide one rotor."""
    rotor, place = evidence.rotor, evidence.place
    if _contradicts(evidence):
        upper, lower = (_alone(evidence, bar.id, band) for bar in rotor.bars)
        return RotorReading(rotor.id, "impossible", Reason.IMPOSSIBLE.about(rotor.id), upper, lower, place)
    upper, lower = (_bar(evidence, bar.id, band) for bar in rotor.bars)
    states = {upper.state, lower.state}
    if states == {"along", "across"}:
        return RotorReading(rotor.id, "legal", "", upper, lower, place)
    if "unreadable" in states:
        reason = _why(evidence, upper, lower)
        return RotorReading(rotor.id, "unreadable", reason.about(rotor.id), upper, lower, place)
    if "between" in states:
        return RotorReading(rotor.id, "between", Reason.BETWEEN.about(rotor.id), upper, lower, place)
    return RotorReading(rotor.id, "impossible", Reason.IMPOSSIBLE.about(rotor.id), upper, lower, place)


def unseen(rotor: RotorPlan, reason: Reason) -> RotorReading:
    """Reading of a rotor of which nothing was measured."""
    upper, lower = (BarReading(rotor.id, bar.id, None, None, "unreadable", 0.5) for bar in rotor.bars)
    return RotorReading(rotor.id, "unreadable", reason.about(rotor.id), upper, lower)


def _contradicts(evidence: Evidence) -> bool:
    """Say whether both bars are plain to see and not square to each other."""
    strong = all(
        bar.own_ratio >= STRONG_RATIO and bar.strength >= STRONG_EDGE and not _cut(evidence, bar)
        for bar in evidence.measure.bars
    )
    square = off_square_deg(evidence.measure)
    return bool(strong and square > SQUARE_DEG and evidence.circles.score >= CIRCLES_LEAST)


def _sigma(evidence: Evidence) -> float:
    whole = calibration().sigma_deg(disagreement_deg(evidence.measure), incoherence(evidence.measure))
    ends = zip(evidence.measure.bars, evidence.rotor.bars, strict=True)
    turn = max(bar.one_sided * _PLACE_MM / (_LEVER * plan.length_mm / 2) for bar, plan in ends)
    return float(np.hypot(whole, np.degrees(turn)))


def _cut(evidence: Evidence, bar: BarMeasure) -> bool:
    """Say whether too little of a bar lies in the picture."""
    return bar.inside < (HELD_INSIDE_LEAST if evidence.held_by_tags else INSIDE_LEAST)


def _alone(evidence: Evidence, name: str, band: AngleBand) -> BarReading:
    """Reading of a bar that contradicts its partner: its own angle, and no state that passes for a call."""
    bar = evidence.bar(name)
    along, _, _ = shares(bar.own_angle_deg, evidence.rotor.finger_axis_deg, _sigma(evidence), 0.8, band)
    return BarReading(evidence.rotor.id, name, bar.own_angle_deg, _sigma(evidence), "between", along)


def _bar(evidence: Evidence, name: str, band: AngleBand) -> BarReading:
    bar, rotor, sigma = evidence.bar(name), evidence.rotor, _sigma(evidence)
    trust = calibration().trust.probability(trust_figures(evidence.measure, name, evidence.circles.score))
    seen = calibration().seen[name].probability(seen_figures(evidence.measure, name))
    along, across, between = shares(bar.angle_deg, rotor.finger_axis_deg, sigma, trust, band)
    state: BarState = "unreadable"
    if not _barred(evidence, name) and seen >= SEEN_FROM:
        if max(along, across) >= CALL_FROM:
            state = "along" if along > across else "across"
        elif trust >= CALL_FROM and between > 0.5 * (1 - trust):
            state = "between"
    return BarReading(rotor.id, name, bar.angle_deg, sigma, state, along)


def _barred(evidence: Evidence, name: str) -> bool:
    """Say whether a bar may not be called whatever its figures: no rotor, cut off, or out of focus."""
    bar = evidence.bar(name)
    width = evidence.rotor.upper.width_mm if name == "upper" else evidence.rotor.lower.width_mm
    no_rotor = evidence.circles.score < CIRCLES_LEAST and not evidence.held_by_tags
    stray = float(apart(bar.own_angle_deg, bar.angle_deg)) > OWN_PEAK_OFF_DEG
    plain = bar.share >= PLAIN_SHARE and bar.coherence >= PLAIN_COHERENCE
    imitated = False
    if name == "lower":
        off_axis = float(apart(bar.angle_deg, evidence.rotor.finger_axis_deg))
        imitated = off_axis < _NEAR_DEG and _imitated(evidence)
        plain = plain or (off_axis > 90.0 - _NEAR_DEG and bar.rival_ratio >= ACROSS_RATIO)
    return (
        no_rotor
        or imitated
        or (stray and not plain)
        or _cut(evidence, bar)
        or evidence.quality.blur_mm > BLUR_MOST * width
    )


def _imitated(evidence: Evidence) -> bool:
    """Say whether a lower bar that seems to lie along its fingers may be drawn by them alone."""
    bar = evidence.measure.lower
    lead = bar.rival_ratio**2 * bar.rival_figure
    return lead < IMITATED_LEAD or (lead < FACE_LEAD and evidence.measure.lower_face < FACE_LEAST)


def _why(evidence: Evidence, upper: BarReading, lower: BarReading) -> Reason:
    """Choose the reason that a technician can do something about, the plainest first."""
    names = [bar.bar for bar in (upper, lower) if bar.state == "unreadable"]
    bars = [evidence.bar(name) for name in names]
    quality, width = evidence.quality, evidence.rotor.upper.width_mm
    own_peaks = [float(apart(bar.own_angle_deg, bar.angle_deg)) for bar in bars]
    signs = (
        (any(bar.inside < INSIDE_LEAST for bar in bars), Reason.CUT),
        (quality.clipped > GLARE_SHARE or any(bar.clipped > 0.5 for bar in bars), Reason.GLARE),
        (quality.lightness < DARK_LIGHTNESS, Reason.DARK),
        (quality.blur_mm > BLUR_NAMED * width, Reason.BLURRED),
        (evidence.circles.score < CIRCLES_LEAST, Reason.NO_CIRCLES),
        (any(bar.strength < STRONG_EDGE for bar in bars), Reason.FAINT),
        (max(own_peaks) >= 15, Reason.HIDDEN),
    )
    return next((reason for found, reason in signs if found), Reason.DISAGREE)
