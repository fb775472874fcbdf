"""The motor: its speed from supply and slip, its direction of rotation from the phase order, its duty.

n = 120 f / p with f the supply frequency in Hz and p the number of poles; slip s = (n - n_real) / n. A stroke
time predicted from the synchronous speed is too short by the slip.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from service.domain.figures import above_zero, above_zero_up_to, finite, within, zero_or_more
from service.domain.refusals import BadDefinition

PHASES = ("L1", "L2", "L3")
MOST_RPM = 1e5
MOST_RPM_S = 1e8
MOST_S = 600.0
"""Speed, deceleration and times in r/min, r/min a second and seconds that no valve drive has."""
Rotation = Literal["clockwise", "counter-clockwise"]


@dataclass(frozen=True, slots=True)
class Measured:
    """A figure with its standard deviation, in the same unit.

    Raises
    ------
    BadDefinition
        The figure is not finite, or its standard deviation is negative or not finite.

    """

    value: float
    sigma: float = 0.0

    def __post_init__(self) -> None:
        finite(self.value, "value", "A measured figure")
        zero_or_more(self.sigma, "sigma", "A standard deviation")


@dataclass(frozen=True, slots=True)
class Motor:
    """How the motor moves the valve: speed in r/min under load, and how it stops.

    `drop_out_s` is the time from the opening of its circuit to the moment the motor is without current, in
    seconds; `deceleration_rpm_s` how fast it slows down under load after that, in r/min a second; `start_s`
    the time from the command to full speed, in which the way covered is neglected.

    Raises
    ------
    BadDefinition
        A figure is not of its kind; the field is named.

    """

    speed_rpm: Measured
    drop_out_s: Measured
    deceleration_rpm_s: Measured
    start_s: Measured = Measured(0.0)

    def __post_init__(self) -> None:
        above_zero_up_to(self.speed_rpm.value, MOST_RPM, "motor.speed_rpm", "The motor's speed in r/min")
        above_zero_up_to(
            self.deceleration_rpm_s.value,
            MOST_RPM_S,
            "motor.deceleration_rpm_s",
            "The deceleration in r/min a second",
        )
        within(self.drop_out_s.value, 0.0, MOST_S, "motor.drop_out_s", "The drop-out time in seconds")
        within(self.start_s.value, 0.0, MOST_S, "motor.start_s", "The starting time in seconds")
        for name, most in (
            ("speed_rpm", self.speed_rpm.value),
            ("deceleration_rpm_s", self.deceleration_rpm_s.value),
            ("drop_out_s", MOST_S),
            ("start_s", MOST_S),
        ):
            if (sigma := getattr(self, name).sigma) >= most:
                raise BadDefinition(
                    f"A standard deviation of {sigma:g} leaves nothing known of this figure.",
                    field=f"motor.{name.rsplit('_rpm', 1)[0].removesuffix('_s')}_sigma",
                )

    @property
    def coast_turns(self) -> float:
        """Motor turns from the opening of its circuit to standstill: n t / 60 + n^2 / (2 a 60)."""
        speed = self.speed_rpm.value
        return speed / 60.0 * (self.drop_out_s.value + speed / (2.0 * self.deceleration_rpm_s.value))

    @property
    def coast_s(self) -> float:
        """Seconds from the opening of its circuit to standstill."""
        return self.drop_out_s.value + self.speed_rpm.value / self.deceleration_rpm_s.value


def synchronous_rpm(supply_hz: float, poles: int) -> float:
    """Return the synchronous speed in r/min: 120 f / p.

    Examples
    --------
    >>> synchronous_rpm(50, 4)
    1500.0

    Raises
    ------
    BadDefinition
        The frequency is not more than zero, or the number of poles is odd or less than two.

    """
    above_zero(supply_hz, "motor.supply_hz", "The supply frequency in Hz")
    if poles < 2 or poles % 2:
        raise BadDefinition(f"A motor with {poles} poles: they come in pairs.", field="motor.poles")
    return 120.0 * supply_hz / poles


def slip_of(synchronous: float, real: float) -> float:
    """Return the slip, as a share of the synchronous speed."""
    above_zero(synchronous, "motor.synchronous_rpm", "The synchronous speed")
    return (synchronous - finite(real, "motor.speed_rpm", "The real speed")) / synchronous


def loaded_rpm(supply_hz: float, poles: int, slip: float) -> float:
    """Return the speed in r/min under load; the slip lies from 0 up to less than 1."""
    within(slip, 0.0, 0.99, "motor.slip", "The slip")
    return synchronous_rpm(supply_hz, poles) * (1.0 - slip)


def is_forward(order: Sequence[str]) -> bool:
    """Return whether a phase order turns like L1 L2 L3; its cyclic shifts do, the other three orders reverse.

    Raises
    ------
    BadDefinition
        The order is not one of the three phases, each once.

    """
    if sorted(order) != sorted(PHASES):
        raise BadDefinition(f"{' '.join(order)} is no order of L1, L2 and L3.", field="motor.phases")
    start = tuple(order).index("L1")
    return tuple(order[start:]) + tuple(order[:start]) == PHASES


def rotation(order: Sequence[str]) -> Rotation:
    """Return the rotation facing the drive end with the phases of `order` on U, V, W (IEC 60034-8)."""
    return "clockwise" if is_forward(order) else "counter-clockwise"


@dataclass(frozen=True, slots=True)
class Duty:
    """What the motor's plate allows: longest run and rest after it in seconds, starts an hour."""

    longest_run_s: float | None = None
    rest_s: float | None = None
    starts_an_hour: int | None = None


def duty_questions(runs: Sequence[tuple[float, float]], duty: Duty) -> list[str]:
    """Return what a sequence of runs (start and end, in seconds on one clock) asks beyond the plate.

    Raises
    ------
    BadDefinition
        A run ends before it starts, or starts before the one before has ended.

    """
    found = []
    for number, (start, end) in enumerate(runs):
        if end < start or (number and start < runs[number - 1][1]):
            raise BadDefinition(
                "Runs follow each other, each ending after its start.", field=f"motor.earlier_runs[{number}]"
            )
        if duty.longest_run_s is not None and end - start > duty.longest_run_s:
            found.append(
                f"Run {number + 1} took {end - start:.0f} s; the plate allows {duty.longest_run_s:.0f} s."
            )
        pause = start - runs[number - 1][1] if number else None
        if pause is not None and duty.rest_s is not None and pause < duty.rest_s:
            found.append(
                f"Run {number + 1} began {pause:.0f} s after the last; the plate asks {duty.rest_s:.0f} s."
            )
        within_the_hour = sum(1 for earlier, _ in runs[: number + 1] if start - earlier < 3600.0)
        if duty.starts_an_hour is not None and within_the_hour > duty.starts_an_hour:
            found.append(
                f"Run {number + 1} is start {within_the_hour} within an hour; the plate allows "
                f"{duty.starts_an_hour}."
            )
    return found
