"""How far short of the hard stop an end is set: margin required, its ceiling, what a way of setting gives.

Required margin = max(site rule, coast + lost motion + uncertainty), per direction. Where that is more than
the valve's stated tightness allows, no setting is advised and both figures are shown. All lengths here are in
percent of travel; `travel_scale` turns them into turns and millimetres.
"""

from dataclasses import dataclass
from typing import Literal

from service.domain.figures import finite, within, zero_or_more
from service.domain.refusals import BadDefinition
from service.domain.travel_scale import TravelScale

Way = Literal["on_approach", "after_backing_off"]
HALF_A_TURN = 0.5
"""Handwheel turns of the common site rule; common practice, no source, so a site confirms it."""


@dataclass(frozen=True, slots=True)
class MarginParts:
    """What a margin has to cover, in percent of travel."""

    site_rule_pct: float
    coast_pct: float
    lost_motion_pct: float
    uncertainty_pct: float = 0.0

    def __post_init__(self) -> None:
        for name in ("site_rule_pct", "coast_pct", "lost_motion_pct", "uncertainty_pct"):
            words = f"{name.removesuffix('_pct').replace('_', ' ').capitalize()}, in percent of travel,"
            within(getattr(self, name), 0.0, 100.0, f"margin.{name}", words)

    @property
    def needed_pct(self) -> float:
        """Coast + lost motion + uncertainty, in percent of travel."""
        return self.coast_pct + self.lost_motion_pct + self.uncertainty_pct

    @property
    def required_pct(self) -> float:
        """The required margin in percent of travel."""
        return max(self.site_rule_pct, self.needed_pct)

    @property
    def reason(self) -> str:
        """Which part decides, with every figure."""
        parts = (
            f"coast {self.coast_pct:.3g} + lost motion {self.lost_motion_pct:.3g} + uncertainty "
            f"{self.uncertainty_pct:.3g} = {self.needed_pct:.3g} % of travel"
        )
        decides = "the site rule decides" if self.site_rule_pct >= self.needed_pct else "these decide"
        return f"{parts}; site rule {self.site_rule_pct:.3g} %; {decides}."


@dataclass(frozen=True, slots=True)
class MarginAdvice:
    """The margin to set in percent of travel, or None where none can be advised, and why."""

    margin_pct: float | None
    reason: str


def advise_margin(parts: MarginParts, ceiling_pct: float | None = None) -> MarginAdvice:
    """Return the margin to set, unless the valve's stated tightness allows less (`ceiling_pct`)."""
    required = parts.required_pct
    if ceiling_pct is None:
        return MarginAdvice(required, f"{parts.reason} How much the valve's tightness allows is not stated.")
    zero_or_more(ceiling_pct, "margin.ceiling_pct", "What the valve's tightness allows")
    if required > ceiling_pct:
        return MarginAdvice(
            None,
            f"A margin of {required:.3g} % of travel is needed, the valve's tightness allows "
            f"{ceiling_pct:.3g} %: "
            f"no setting is advised. {parts.reason}",
        )
    return MarginAdvice(required, parts.reason)


def site_rule_pct(scale: TravelScale, handwheel_turns: float = HALF_A_TURN) -> float:
    """Return the site's rule, stated in handwheel turns, in percent of travel."""
    return scale.pct(zero_or_more(handwheel_turns, "margin.site_rule", "The site rule"), "handwheel")


def true_margin_pct(way: Way, back_off_pct: float, lost_motion_pct: float) -> float:
    """Return how far short of the hard stop the set point really lies, in percent of travel.

    1. On approach: the valve came back in the trip direction to the set point, so what is counted from there
       to the
       stop is the margin itself.
    2. After backing off: the first part of the back-off only took out the lost motion; the margin is what
       remains, to
       be measured on the next approach.

    Raises
    ------
    BadDefinition
        The back-off has the wrong sign: away from the stop counts positive.

    """
    finite(back_off_pct, "back_off", "The back-off")
    zero_or_more(lost_motion_pct, "lost_motion", "The lost motion")
    if back_off_pct < 0:
        raise BadDefinition(
            f"The back-off is {back_off_pct:g} % towards the hard stop; an end is set short of it.",
            field="back_off",
        )
    if way == "on_approach":
        return back_off_pct
    return max(0.0, back_off_pct - lost_motion_pct)


def question_about_back_off(
    scale: TravelScale, handwheel_turns: float, rule_turns: float = HALF_A_TURN
) -> str | None:
    """Return a sentence where a back-off is more than the site's rule, else None; a wrong sign is refused."""
    if handwheel_turns < 0:
        raise BadDefinition(
            f"A back-off of {handwheel_turns:g} handwheel turns goes into the hard stop.", field="back_off"
        )
    if handwheel_turns <= rule_turns:
        return None
    return (
        f"A back-off of {handwheel_turns:g} handwheel turns is "
        f"{scale.pct(handwheel_turns, 'handwheel'):.3g} % of "
        f"travel; the site rule is {rule_turns:g}. Is so much meant?"
    )


def question_about_lost_motion(turns: float, earlier: float, tolerance_turns: float = 0.25) -> str | None:
    """Return a sentence where lost motion differs from the earlier job's beyond the tolerance, else None."""
    zero_or_more(turns, "lost_motion", "The lost motion in turns")
    if abs(turns - earlier) <= tolerance_turns:
        return None
    return (
        f"{turns:g} turns of lost motion now, {earlier:g} at the earlier job: more than {tolerance_turns:g} "
        "apart. "
        "Find the reason before setting an end."
    )


PART_TURN_ORDER = ("seat", "limit", "stop_clearance")
"""The order of setting a part-turn valve: seat position, then limit, then clearance of the stop."""


def part_turn_faults(seat_deg: float, limit_deg: float, stop_deg: float, coast_deg: float) -> list[str]:
    """Return what is wrong with one end of a part-turn valve; angles in degrees, counted towards that end.

    The limit trips so that the coast ends on the seat, and the stop stands clear beyond where the valve comes
    to rest.
    """
    for name, angle in (("seat", seat_deg), ("limit", limit_deg), ("stop", stop_deg), ("coast", coast_deg)):
        finite(angle, name, f"The {name} angle")
    rest = limit_deg + coast_deg
    faults = []
    if rest > stop_deg:
        faults.append(f"The valve would coast to {rest:g} degrees and meet the stop at {stop_deg:g} degrees.")
    if stop_deg < seat_deg:
        faults.append(
            f"The stop at {stop_deg:g} degrees keeps the valve from its seat at {seat_deg:g} degrees."
        )
    if limit_deg > seat_deg:
        faults.append(f"The limit trips at {limit_deg:g} degrees, beyond the seat at {seat_deg:g} degrees.")
    return faults
