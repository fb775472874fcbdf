"""The valve's movement in time: full speed, then drop-out at full speed, then an even slowing to standstill.

Travel is counted in percent moved since the start. Whatever opens the motor's circuit does so once; the rest
of the movement follows from it.
"""

import math
from dataclasses import dataclass

from service.domain.motor import Motor
from service.domain.travel_scale import TravelScale


@dataclass(frozen=True, slots=True)
class Motion:
    """Movement at `speed` (percent a second) from `start_s`; circuit open at `open_s` (None: never)."""

    speed: float
    start_s: float
    drop_out_s: float
    deceleration: float
    open_s: float | None = None

    @property
    def stands_at_s(self) -> float:
        """The time of standstill in seconds; infinite while nothing has opened the circuit."""
        if self.open_s is None:
            return math.inf
        return self.open_s + self.drop_out_s + self.speed / self.deceleration

    @property
    def stands_at(self) -> float:
        """The percent moved at standstill; infinite while nothing has opened the circuit."""
        if self.open_s is None:
            return math.inf
        return self._full_speed_until() + self.speed**2 / (2.0 * self.deceleration)

    def time_at(self, moved: float) -> float:
        """Return the time in seconds at which `moved` percent are covered; infinite if never reached."""
        if self.open_s is None or moved <= self._full_speed_until():
            return self.start_s + moved / self.speed
        left = self.speed**2 - 2.0 * self.deceleration * (moved - self._full_speed_until())
        if left < 0:
            return math.inf
        return self.open_s + self.drop_out_s + (self.speed - math.sqrt(left)) / self.deceleration

    def moved_at(self, time_s: float) -> float:
        """Return the percent covered at a time in seconds."""
        if time_s <= self.start_s:
            return 0.0
        if self.open_s is None or time_s <= self.open_s + self.drop_out_s:
            return (time_s - self.start_s) * self.speed
        slowing = min(time_s - self.open_s - self.drop_out_s, self.speed / self.deceleration)
        return self._full_speed_until() + slowing * (self.speed - self.deceleration * slowing / 2.0)

    def _full_speed_until(self) -> float:
        return (float(self.open_s or 0.0) + self.drop_out_s - self.start_s) * self.speed


def motion_of(motor: Motor, scale: TravelScale) -> Motion:
    """Return the movement that a motor gives a valve, in percent of travel.

    Raises
    ------
    BadDefinition
        How many motor turns make one drive turn is not stated.

    """
    pct_a_turn = scale.pct(1.0, "motor")
    return Motion(
        speed=motor.speed_rpm.value / 60.0 * pct_a_turn,
        start_s=motor.start_s.value,
        drop_out_s=motor.drop_out_s.value,
        deceleration=motor.deceleration_rpm_s.value / 60.0 * pct_a_turn,
    )
