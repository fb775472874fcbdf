"""The travel scale of one valve: handwheel, drive, motor and setting-shaft turns, stem or angle, and percent.

The scale rests on the turns counted stop to stop on this valve; tables of turns by size only make a count
plausible. A drive turn is a turn of the shaft that moves the valve (stem nut, or input of a quarter-turn
gearbox). All ratios count turns of the faster shaft for one turn of the drive.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from service.domain.figures import above_zero, above_zero_up_to, within
from service.domain.refusals import BadDefinition

Kind = Literal["rising_stem", "travelling_nut", "quarter_turn"]
Shaft = Literal["drive", "handwheel", "motor", "setting_shaft"]
QUARTER_DEG = 90.0
BEYOND_ANY_DRIVE = 1e5
"""Turns, ratios, mm and degrees a turn that no drive has; nor their reciprocal."""


@dataclass(frozen=True, slots=True)
class TravelScale:
    """How turns, distance or angle, and percent of travel belong together.

    `drive_turns` are the turns of the drive stop to stop. `per_turn` is what one drive turn moves: the lead
    in mm of a rising stem or travelling nut, degrees of the valve shaft of a quarter-turn valve. `handwheel`,
    `motor` and `setting_shaft` are turns of that shaft for one drive turn; None where it is not known.

    Raises
    ------
    BadDefinition
        A figure is not finite or not more than zero; the field is named.

    """

    kind: Kind
    drive_turns: float
    per_turn: float
    handwheel: float | None = None
    motor: float | None = None
    setting_shaft: float | None = None

    def __post_init__(self) -> None:
        most = BEYOND_ANY_DRIVE
        above_zero_up_to(
            self.drive_turns, most, "scale.drive_turns", "The number of drive turns stop to stop"
        )
        what = "angle in degrees a drive turn" if self.kind == "quarter_turn" else "lead in mm"
        above_zero_up_to(self.per_turn, most, "scale.per_turn", f"The {what}")
        for shaft in ("handwheel", "motor", "setting_shaft"):
            ratio = getattr(self, shaft)
            if ratio is not None:
                words = f"The number of {shaft.replace('_', ' ')} turns for one drive turn"
                above_zero_up_to(ratio, most, f"scale.{shaft}", words)

    @property
    def stroke(self) -> float:
        """The whole stroke, in mm of the stem or degrees of the valve shaft."""
        return self.drive_turns * self.per_turn

    def ratio(self, shaft: Shaft) -> float:
        """Return the turns of a shaft for one drive turn; raises BadDefinition where it is not known."""
        found: float | None = 1.0 if shaft == "drive" else getattr(self, shaft)
        if found is None:
            raise BadDefinition(
                f"How many {shaft.replace('_', ' ')} turns make one drive turn is not stated.",
                field=f"scale.{shaft}",
            )
        return found

    def turns(self, pct: float, shaft: Shaft = "drive") -> float:
        """Return the turns of a shaft that move the valve by `pct` of its travel."""
        return pct / 100.0 * self.drive_turns * self.ratio(shaft)

    def pct(self, turns: float, shaft: Shaft = "drive") -> float:
        """Return the share of travel, in percent, that turns of a shaft move the valve."""
        return turns / self.ratio(shaft) / self.drive_turns * 100.0

    def distance(self, pct: float) -> float:
        """Return what `pct` of travel is on the valve: mm of the stem or degrees of its shaft."""
        return pct / 100.0 * self.stroke

    def pct_of_distance(self, distance: float) -> float:
        """Return the share of travel, in percent, of a distance in mm or of an angle in degrees."""
        return distance / self.stroke * 100.0


def from_other_end(pct: float) -> float:
    """Return a travel counted from the other end: 100 - p. Never a change of sign of the turns alone."""
    return 100.0 - pct


def quarter_turn_scale(gear_ratio: float, swing_deg: float = QUARTER_DEG, **ratios: float) -> TravelScale:
    """Return the scale of a quarter-turn valve behind `gear_ratio` drive turns a turn of the valve shaft."""
    above_zero_up_to(
        gear_ratio, BEYOND_ANY_DRIVE, "scale.gear_ratio", "The ratio of the quarter-turn gearbox"
    )
    above_zero_up_to(swing_deg, 360.0, "scale.swing_deg", "The swing of the valve in degrees")
    per_turn = 360.0 / gear_ratio
    return TravelScale("quarter_turn", swing_deg / per_turn, per_turn, **ratios)


def plausible_gate_turns(inches: float) -> tuple[float, float]:
    """Return the turns that a waterworks gate valve of this nominal size usually takes: 3 x inches + 2 to 3.

    A band to question a count with, never a limit: the turns counted on the valve decide.

    Examples
    --------
    >>> plausible_gate_turns(4)
    (14.0, 15.0)

    """
    above_zero(inches, "inches", "The nominal size in inches")
    return 3.0 * inches + 2.0, 3.0 * inches + 3.0


_SMALL_DN: Mapping[int, float] = {25: 1.0, 32: 1.25, 40: 1.5, 50: 2.0, 65: 2.5, 80: 3.0}


def inches_of_dn(dn: int) -> float:
    """Return the nominal size in inches of a metric nominal size: a table up to DN 80, DN / 25 above.

    Correspondence of DN and NPS as pipe standards print it (ASME B36.10M); from memory.

    Examples
    --------
    >>> inches_of_dn(300), inches_of_dn(80)
    (12.0, 3.0)

    Raises
    ------
    BadDefinition
        The size is none of a valve with a counted stem.

    """
    within(dn, 25, 3000, "scale.nominal_size", "The nominal size DN")
    return _SMALL_DN.get(dn, dn / 25.0)


def question_about_turns(inches: float, counted: float, plus_minus: float = 1.0) -> str | None:
    """Return a sentence where a count of turns is far from the usual one of a gate valve, else None."""
    low, high = plausible_gate_turns(inches)
    if low - plus_minus <= counted <= high + plus_minus:
        return None
    return (
        f"{counted:g} turns were counted; a waterworks gate valve of {inches:.3g} inches usually takes "
        f"{low:.3g} to {high:.3g}. Was it this shaft, and stop to stop? The count decides, not the table."
    )


def question_about_history(counted: float, earlier: float, tolerance_turns: float = 0.5) -> str | None:
    """Return a sentence where total turns differ from the earlier job's beyond the tolerance, else None."""
    if abs(counted - earlier) <= tolerance_turns:
        return None
    return (
        f"{counted:g} turns stop to stop now, {earlier:g} at the earlier job: a difference of "
        f"{counted - earlier:+g} turns, more than {tolerance_turns:g}. Find the reason before setting an end."
    )


def question_about_capacity(
    scale: TravelScale, capacity_turns: float, margin_share: float = 0.1
) -> str | None:
    """Return a sentence where the switch cannot count the valve's turns with the margin to spare, else None.

    `capacity_turns` are the drive turns that the switch can follow, `margin_share` the share kept free of
    them.
    """
    above_zero(capacity_turns, "capacity_turns", "The turns capacity of the switch")
    usable = capacity_turns * (1.0 - margin_share)
    if scale.drive_turns <= usable:
        return None
    return (
        f"The valve takes {scale.drive_turns:g} drive turns; the switch follows {capacity_turns:g}, "
        f"{usable:g} with {100 * margin_share:.0f} % kept free: it does not fit this valve."
    )
