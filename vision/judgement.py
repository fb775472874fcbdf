"""From the measurements of a rotor to its state: legal, between, impossible or unreadable, with the reason in words.

A bar is called only where everything speaks for it; each limit below says what it keeps out. A rotor is
legal where both bars were called, one along and one across.
"""

from dataclasses import dataclass

from vision.angles import apart
from vision.bars import RotorMeasure
from vision.calibration import shares, sigma_deg
from vision.circles import Circles
from vision.layout import AngleBand, RotorPlan
from vision.reading import BarReading, BarState, RotorReading
from vision.reasons import Reason

# A bar is called from this probability on.
CALL_FROM = 0.95
# Circle coherence (both, 0 to 2) under which no rotor is seen at its place.
CIRCLES_LEAST = 1.12
# A bar's outline must lie in the picture but for this share.
INSIDE_LEAST = 0.97
# Mean edge strength, Lab units a millimetre: hidden, blurred or drowned bars stay under it.
STRENGTH_LEAST = {"upper": 5.0, "lower": 4.0}
# Coherence of the outline at the common angle.
COHERENCE_LEAST = {"upper": 0.62, "lower": 0.6}
# Share of the bar's own best coherence that is reached at the common angle: lower where the two bars do not
# agree.
SHARE_LEAST = 0.9
# The common peak against its best rival further than 15 degrees away.
JOINT_LEAST = 1.13
# Two strong bars this far from square are a contradiction, not a misreading.
SQUARE_DEG, STRONG_RATIO = 8.0, 1.25


@dataclass(frozen=True)
class Evidence:
    """What is known of one rotor: its circles and its bars."""

    rotor: RotorPlan
    circles: Circles
    measure: RotorMeasure
    method: str


def judge(evidence: Evidence, band: AngleBand) -> RotorReading:
    """Decide one rotor."""
    rotor = evidence.rotor
    impossible = _contradiction(evidence, band)
    if impossible is not None:
        return impossible
    doubts = {bar.id: _doubt(evidence, bar.id) for bar in rotor.bars}
    bars = {bar.id: _bar(evidence, bar.id, doubts[bar.id], band) for bar in rotor.bars}
    upper, lower = bars["upper"], bars["lower"]
    states = {upper.state, lower.state}
    place = (
        rotor.centre_mm[0] + float(evidence.circles.shift_mm[0]),
        rotor.centre_mm[1] + float(evidence.circles.shift_mm[1]),
    )
    if states == {"along", "across"}:
        return RotorReading(rotor.id, "legal", "", upper, lower, place)
    if "unreadable" in states:
        reason = next(
            doubt for doubt in (doubts["upper"], doubts["lower"], Reason.FAINT) if doubt is not None
        )
        return RotorReading(rotor.id, "unreadable", reason.about(rotor.id), upper, lower, place)
    if "between" in states:
        return RotorReading(rotor.id, "between", Reason.BETWEEN.about(rotor.id), upper, lower, place)
    return RotorReading(rotor.id, "impossible", Reason.IMPOSSIBLE.about(rotor.id), upper, lower, place)


def unseen(rotor: RotorPlan, reason: Reason) -> RotorReading:
    """Reading of a rotor of which nothing was measured."""
    upper, lower = (BarReading(rotor.id, bar.id, None, None, "unreadable", 0.5) for bar in rotor.bars)
    return RotorReading(rotor.id, "unreadable", reason.about(rotor.id), upper, lower)


def _contradiction(evidence: Evidence, band: AngleBand) -> RotorReading | None:
    measure, rotor = evidence.measure, evidence.rotor
    square = float(apart(measure.upper.own_angle_deg + 90.0, measure.lower.own_angle_deg))
    strong = all(
        bar.own_ratio >= STRONG_RATIO and bar.strength >= STRENGTH_LEAST[name] and bar.inside >= INSIDE_LEAST
        for name, bar in zip(("upper", "lower"), measure.bars, strict=True)
    )
    if square <= SQUARE_DEG or not strong or evidence.circles.score < CIRCLES_LEAST:
        return None
    bars = []
    for plan, bar in zip(rotor.bars, measure.bars, strict=True):
        sigma = sigma_deg(evidence.method, 2.0)
        along, across, _ = shares(bar.own_angle_deg, rotor.finger_axis_deg, sigma, 0.9, band)
        bars.append(
            BarReading(
                rotor.id, plan.id, bar.own_angle_deg, sigma, _called(along, across, certain=True), along
            )
        )
    return RotorReading(
        rotor.id, "impossible", Reason.IMPOSSIBLE.about(rotor.id), bars[0], bars[1], rotor.centre_mm
    )


def _doubt(evidence: Evidence, name: str) -> Reason | None:
    measure = evidence.measure
    bar = measure.upper if name == "upper" else measure.lower
    if evidence.circles.score < CIRCLES_LEAST:
        return Reason.NO_CIRCLES
    if bar.inside < INSIDE_LEAST:
        return Reason.CUT
    if bar.strength < STRENGTH_LEAST[name]:
        return Reason.GLARE if bar.clipped > 0.5 else Reason.FAINT
    if bar.coherence < COHERENCE_LEAST[name]:
        return Reason.GLARE if bar.clipped > 0.5 else Reason.HIDDEN
    if bar.share < SHARE_LEAST or measure.joint_ratio < JOINT_LEAST:
        return Reason.DISAGREE
    return None


def _bar(evidence: Evidence, name: str, doubt: Reason | None, band: AngleBand) -> BarReading:
    measure, rotor = evidence.measure, evidence.rotor
    bar = measure.upper if name == "upper" else measure.lower
    sigma = sigma_deg(evidence.method, _disagreement(measure))
    trust = 0.995 if doubt is None else 0.5
    along, across, _ = shares(bar.angle_deg, rotor.finger_axis_deg, sigma, trust, band)
    state: BarState = "unreadable" if doubt is not None else _called(along, across, certain=True)
    return BarReading(rotor.id, name, bar.angle_deg, sigma, state, along)


def _disagreement(measure: RotorMeasure) -> float:
    upper, lower = measure.bars
    return float(apart(upper.alone_deg + 90.0, lower.alone_deg))


def _called(along: float, across: float, *, certain: bool) -> BarState:
    if along >= CALL_FROM:
        return "along"
    if across >= CALL_FROM:
        return "across"
    return "between" if certain else "unreadable"
