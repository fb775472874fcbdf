"""Drift of a trip point between jobs: how much, how sure, and when it would leave its tolerance.

A trip point that is set anew starts a new stretch: what drifted before is compared with what was found, never
with what was left. Every stretch has the one slope, so the fit is a line by weighted least squares with an
offset of its own for each stretch (analysis of covariance), in percent of travel over days. Where trip points
scatter more than their stated doubt allows, the doubt of the slope is widened by the Birge ratio
sqrt(chi^2 / degrees of freedom). Causes are named as possible, never asserted: dates and trip points do not
show causes.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from service.domain.figures import finite, within, zero_or_more
from service.domain.refusals import BadDefinition

POSSIBLE_CAUSES = (
    "wear of stem nut, gearing or seat",
    "a different temperature of stem or body at the two jobs",
    "another way of counting, or other hands",
    "a setting gear that was not fully engaged",
)
"""Causes to ask about; possible, never asserted (common practice, no source)."""
WIDE = 2.0
MOST_DAYS = 40_000.0
"""About a century: whatever lies beyond is not said as a date."""


@dataclass(frozen=True, slots=True)
class TripRecord:
    """The trip point found at one job: day (any day count), percent of travel, and its standard deviation.

    `left_pct` is where it was left, where it was set anew; None where it was left as found.
    `temperature_c` is that of stem or body, where it was taken.
    """

    day: float
    trip_pct: float
    sigma_pct: float
    left_pct: float | None = None
    temperature_c: float | None = None

    def __post_init__(self) -> None:
        finite(self.day, "day", "The day of a job")
        within(self.trip_pct, -100.0, 200.0, "found_pct", "A trip point in percent")
        within(self.sigma_pct, 1e-6, 100.0, "doubt_pct", "The standard deviation of a trip point in percent")
        if self.left_pct is not None:
            within(self.left_pct, -100.0, 200.0, "left_pct", "A trip point in percent")
        if self.temperature_c is not None:
            within(self.temperature_c, -100.0, 1000.0, "temperature_c", "A temperature in degrees Celsius")


@dataclass(frozen=True, slots=True)
class Drift:
    """A drift in percent of travel a year, its standard deviation, whether it stands out of the doubt.

    `leaves_in_days` is when the line leaves the tolerance, counted from the last job; `earliest_days` the
    same at two standard deviations of slope and present trip point; both None where it does not within a
    century, or cannot be said. `widened` is the Birge ratio where it is more than one, else one.
    """

    pct_a_year: float
    sigma_a_year: float
    stands_out: bool
    leaves_in_days: float | None
    earliest_days: float | None
    now_pct: float
    widened: float
    sentence: str


@dataclass(frozen=True, slots=True)
class _Line:
    """Slope in percent a day, the trip point at the last job in percent, with their standard deviations."""

    slope: float
    sigma: float
    now: float
    now_sigma: float
    widened: float


def drift_of(records: Sequence[TripRecord], set_at_pct: float, tolerance_pct: float) -> Drift:
    """Return the drift over two or more jobs, and when it would leave `set_at_pct` +- `tolerance_pct`.

    Raises
    ------
    BadDefinition
        There are fewer than two jobs, or all on one day.

    """
    zero_or_more(tolerance_pct, "tolerance_pct", "The tolerance in percent")
    within(set_at_pct, 0.0, 100.0, "set_at_pct", "The trip point to be set, in percent,")
    if len(records) < 2 or len({record.day for record in records}) < 2:
        raise BadDefinition("A drift needs two jobs on different days.", field="jobs")
    line = _line(_stretches(sorted(records, key=lambda record: record.day)))
    leaves = _days_until(line.now, line.slope, set_at_pct, tolerance_pct)
    extremes = (
        _days_until(line.now + way * WIDE * line.now_sigma, line.slope + way * WIDE * line.sigma,
                    set_at_pct, tolerance_pct)
        for way in (1.0, -1.0)
    )  # fmt: skip
    earliest = min((days for days in extremes if days is not None), default=None)
    stands_out = abs(line.slope) > WIDE * line.sigma
    outside = abs(line.now - set_at_pct) > tolerance_pct
    told = leaves if stands_out or outside else None
    return Drift(
        line.slope * 365.25, line.sigma * 365.25, stands_out, told, earliest, line.now, line.widened,
        _sentence(records, line, told, stands_out=stands_out, outside=outside),
    )  # fmt: skip


def difference_of(earlier: TripRecord, later: TripRecord) -> tuple[float, float]:
    """Return how far a trip point was found from where the earlier job left it, in percent, and its deviation."""
    left = earlier.trip_pct if earlier.left_pct is None else earlier.left_pct
    return later.trip_pct - left, math.hypot(earlier.sigma_pct, later.sigma_pct)


def _stretches(records: Sequence[TripRecord]) -> list[list[tuple[float, float, float]]]:
    """Return (day, trip point, standard deviation) of each stretch between two new settings, in order."""
    stretches: list[list[tuple[float, float, float]]] = [[]]
    for record in records:
        stretches[-1].append((record.day, record.trip_pct, record.sigma_pct))
        if record.left_pct is not None:
            stretches.append([(record.day, record.left_pct, record.sigma_pct)])
    return stretches


def _line(stretches: Sequence[Sequence[tuple[float, float, float]]]) -> _Line:
    """Fit one slope and an offset for each stretch; the value at the last job is that of the last stretch."""
    spread = moment = 0.0
    centres = []
    for points in stretches:
        weights = [1.0 / sigma**2 for _, _, sigma in points]
        total = math.fsum(weights)
        day = math.fsum(w * point[0] for w, point in zip(weights, points, strict=True)) / total
        mean = math.fsum(w * point[1] for w, point in zip(weights, points, strict=True)) / total
        centres.append((day, mean, total))
        spread += math.fsum(w * (point[0] - day) ** 2 for w, point in zip(weights, points, strict=True))
        moment += math.fsum(
            w * (point[0] - day) * (point[1] - mean) for w, point in zip(weights, points, strict=True)
        )
    if spread == 0.0:  # days that differ by less than a float can square
        raise BadDefinition("A drift needs two jobs on different days.", field="jobs")
    slope = moment / spread
    chi_square = math.fsum(
        ((trip - mean - slope * (at - day)) / sigma) ** 2
        for points, (day, mean, _) in zip(stretches, centres, strict=True)
        for at, trip, sigma in points
    )
    freedom = sum(map(len, stretches)) - len(stretches) - 1
    widened = max(1.0, math.sqrt(chi_square / freedom)) if freedom > 0 else 1.0
    sigma_slope = widened / math.sqrt(spread)
    day, mean, total = centres[-1]
    last = max(at for points in stretches for at, _, _ in points)
    now_sigma = math.hypot(widened / math.sqrt(total), (last - day) * sigma_slope)
    return _Line(slope, sigma_slope, mean + slope * (last - day), now_sigma, widened)


def _days_until(now: float, slope: float, set_at: float, tolerance: float) -> float | None:
    """Return the days until a line leaves the tolerance; 0: outside already, None: not within a century."""
    if abs(now - set_at) > tolerance:
        return 0.0
    if slope == 0:
        return None
    limit = set_at + math.copysign(tolerance, slope)
    days = (limit - now) / slope
    return days if days <= MOST_DAYS else None


def _sentence(
    records: Sequence[TripRecord], line: _Line, leaves: float | None, *, stands_out: bool, outside: bool
) -> str:
    figures = f"{line.slope * 365.25:+.3g} % of travel a year, doubt {WIDE * line.sigma * 365.25:.2g} %"
    said = []
    if outside:
        said.append(f"The trip point lies outside its tolerance: {line.now:.3g} %.")
    if not stands_out:
        said.append(f"No drift stands out of the doubt: {figures}.")
    else:
        when = (
            "it does not leave the tolerance within a century"
            if leaves is None
            else f"at this rate it leaves the tolerance in {leaves:.0f} days"
        )
        said.append(f"The trip point drifts: {figures}; {'it has left it' if outside else when}.")
    if len(records) == 2:
        said.append("Two jobs make a line through any two points; a third tells whether it goes on.")
    if line.widened > 1.0:
        said.append(f"They scatter {line.widened:.2g} times as much as stated; the doubt is widened by that.")
    if stands_out or outside:
        said.append(f"Possible causes to ask about: {'; '.join(POSSIBLE_CAUSES)}.")
        said.append(_temperature(records))
    return " ".join(said)


def _temperature(records: Sequence[TripRecord]) -> str:
    known = [record.temperature_c for record in records if record.temperature_c is not None]
    if len(known) < len(records):
        return "No temperature is stated for every job: what warmth alone did cannot be told apart."
    steps = [abs(later - earlier) for earlier, later in pairwise(known)]
    return (
        f"The jobs were at {min(known):g} to {max(known):g} °C, up to {max(steps):g} apart from one to the next: "
        "what warmth did goes back with it, wear does not."
    )
