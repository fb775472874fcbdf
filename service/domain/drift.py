"""Drift of a trip point between jobs: how much, how sure, and when it would leave its tolerance.

A line by weighted least squares through the trip points of the jobs, in percent of travel over days. Causes
are named as possible, never asserted: dates and trip points do not show causes.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.figures import above_zero, finite, zero_or_more
from service.domain.refusals import BadDefinition

POSSIBLE_CAUSES = (
    "wear of stem nut, gearing or seat",
    "a different temperature of stem or body at the two jobs",
    "another way of counting, or other hands",
    "a setting gear that was not fully engaged",
)
"""Causes to ask about; possible, never asserted (common practice, no source)."""
WIDE = 2.0


@dataclass(frozen=True, slots=True)
class TripRecord:
    """The trip point found at one job: day (any day count), percent of travel, and its standard deviation."""

    day: float
    trip_pct: float
    sigma_pct: float

    def __post_init__(self) -> None:
        finite(self.day, "day", "The day of a job")
        finite(self.trip_pct, "trip_pct", "A trip point in percent")
        above_zero(self.sigma_pct, "sigma_pct", "The standard deviation of a trip point in percent")


@dataclass(frozen=True, slots=True)
class Drift:
    """A drift in percent of travel a year, its standard deviation, whether it stands out of the doubt.

    `leaves_in_days` is when the line leaves the tolerance, counted from the last job; `earliest_days` the
    same at two standard deviations; both None where it does not (or cannot be said).
    """

    pct_a_year: float
    sigma_a_year: float
    stands_out: bool
    leaves_in_days: float | None
    earliest_days: float | None
    sentence: str


def drift_of(records: Sequence[TripRecord], set_at_pct: float, tolerance_pct: float) -> Drift:
    """Return the drift over two or more jobs, and when it would leave `set_at_pct` +- `tolerance_pct`.

    Raises
    ------
    BadDefinition
        There are fewer than two jobs, or all on one day.

    """
    zero_or_more(tolerance_pct, "tolerance_pct", "The tolerance in percent")
    if len(records) < 2 or len({record.day for record in records}) < 2:
        raise BadDefinition("A drift needs two jobs on different days.", field="jobs")
    slope, sigma, latest_fit = _line(records)
    leaves = _days_until(latest_fit, slope, set_at_pct, tolerance_pct)
    extremes = (
        _days_until(latest_fit, slope + way * WIDE * sigma, set_at_pct, tolerance_pct) for way in (1.0, -1.0)
    )
    earliest = min((days for days in extremes if days is not None), default=None)
    stands_out = abs(slope) > WIDE * sigma
    return Drift(
        slope * 365.25, sigma * 365.25, stands_out, leaves if stands_out else None, earliest,
        _sentence(slope * 365.25, sigma * 365.25, leaves, stands_out=stands_out),
    )  # fmt: skip


def difference_of(earlier: TripRecord, later: TripRecord) -> tuple[float, float]:
    """Return the difference of two trip points in percent, and its standard deviation."""
    return later.trip_pct - earlier.trip_pct, math.hypot(earlier.sigma_pct, later.sigma_pct)


def _line(records: Sequence[TripRecord]) -> tuple[float, float, float]:
    """Return slope and its standard deviation in percent a day, and the line's value at the last job."""
    weights = [1.0 / record.sigma_pct**2 for record in records]
    total = math.fsum(weights)
    day = math.fsum(weight * record.day for weight, record in zip(weights, records, strict=True)) / total
    mean = (
        math.fsum(weight * record.trip_pct for weight, record in zip(weights, records, strict=True)) / total
    )
    spread = math.fsum(
        weight * (record.day - day) ** 2 for weight, record in zip(weights, records, strict=True)
    )
    slope = (
        math.fsum(
            weight * (record.day - day) * (record.trip_pct - mean)
            for weight, record in zip(weights, records, strict=True)
        )
        / spread
    )
    last = max(record.day for record in records)
    return slope, 1.0 / math.sqrt(spread), mean + slope * (last - day)


def _days_until(now: float, slope: float, set_at: float, tolerance: float) -> float | None:
    """Return the days until a line leaves the tolerance; 0: outside already, None: it never does."""
    if abs(now - set_at) > tolerance:
        return 0.0
    if slope == 0:
        return None
    limit = set_at + math.copysign(tolerance, slope)
    return (limit - now) / slope


def _sentence(slope: float, sigma: float, leaves: float | None, *, stands_out: bool) -> str:
    figures = f"{slope:+.3g} % of travel a year, doubt {WIDE * sigma:.2g} %"
    if not stands_out:
        return f"No drift stands out of the doubt: {figures}."
    when = (
        "it does not leave the tolerance"
        if leaves is None
        else f"at this rate it leaves the tolerance in {leaves:.0f} days"
    )
    causes = "; ".join(POSSIBLE_CAUSES)
    return f"The trip point drifts: {figures}; {when}. Possible causes to ask about: {causes}."
