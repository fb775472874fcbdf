"""What is stated of one valve's drive: travel scale, motor, its duty, and what the margin has to cover."""

from dataclasses import dataclass, field

from service.domain.back_off import HALF_A_TURN, MarginAdvice, MarginParts, advise_margin, site_rule_pct
from service.domain.figures import zero_or_more
from service.domain.motor import Duty, Motor
from service.domain.refusals import BadDefinition
from service.domain.travel_scale import TravelScale

FIT_SHARE = 0.05
"""How far counted turns may lie from those of the stated scale before they are asked about."""


@dataclass(frozen=True, slots=True)
class Actuator:
    """The drive of one valve as its file states it.

    `motor` None: no motor figures are stated, and no stroke time can be expected. `trip_sigma_pct` is how closely
    rotors repeat their trip point, in percent of travel.
    """

    valve: str
    scale: TravelScale
    motor: Motor | None = None
    duty: Duty = field(default_factory=Duty)
    trip_sigma_pct: float = 0.0
    site_rule_turns: float = HALF_A_TURN
    uncertainty_pct: float = 0.0
    tightness_allows_pct: float | None = None

    def __post_init__(self) -> None:
        zero_or_more(self.trip_sigma_pct, "stroke.trip_sigma_pct", "How closely rotors repeat, in percent,")

    @property
    def handwheel_turns(self) -> float | None:
        """The handwheel turns from stop to stop by the stated scale; None where its ratio is not stated."""
        return None if self.scale.handwheel is None else self.scale.turns(100.0, "handwheel")

    @property
    def coast_pct(self) -> float | None:
        """The coast in percent of travel by the motor's figures; None where they are not stated."""
        if self.motor is None or self.scale.motor is None:
            return None
        return self.scale.pct(self.motor.coast_turns, "motor")

    def margin(self, lost_motion_pct: float) -> MarginAdvice:
        """Return the margin to set at an end, with the lost motion as measured in percent of travel.

        Raises
        ------
        BadDefinition
            Neither the handwheel's ratio nor the motor's figures are stated, so that no margin can be computed.

        """
        coast = self.coast_pct
        if coast is None:
            raise BadDefinition("The coast is not stated, so no margin can be computed.", field="motor")
        rule = site_rule_pct(self.scale, self.site_rule_turns)
        parts = MarginParts(rule, coast, lost_motion_pct, self.uncertainty_pct)
        return advise_margin(parts, self.tightness_allows_pct)

    def question_about_turns(self, counted: float) -> str | None:
        """Return a sentence where counted handwheel turns do not fit the stated scale, else None."""
        stated = self.handwheel_turns
        if stated is None or abs(counted - stated) <= FIT_SHARE * stated:
            return None
        return (
            f"{counted:g} handwheel turns were counted stop to stop; the stated scale makes it {stated:g}. "
            "Was it this wheel, and stop to stop? The count decides."
        )
