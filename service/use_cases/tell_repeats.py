"""Tell whether counted trips repeat, and how trip points drift from job to job; commands and API tell the same."""

from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from service.domain.drift import WIDE, TripRecord, difference_of, drift_of
from service.domain.fields import in_part
from service.domain.trip_repeats import judge_counts
from service.ports import CountedTrip, CountedTrips, DriftingTrip, DriftingTrips


def tell_repeats(counted: CountedTrips) -> list[dict[str, Any]]:
    """Return for each counted trip mean, spread, interval, where the next may lie, and whether it repeats."""
    told = []
    for number, trip in enumerate(counted.trips):
        with in_part(f"trips[{number}]", {"counts": trip.counts_field}):
            told.append({"valve": counted.valve, **_repeat(trip)})
    return told


def tell_drift(drifting: DriftingTrips) -> list[dict[str, Any]]:
    """Return for each rotor drift a year with its doubt, and when it would leave the tolerance."""
    told = []
    for number, trip in enumerate(drifting.trips):
        with in_part(f"trips[{number}]"):
            told.append({"valve": drifting.valve, **_drift(trip)})
    return told


def _repeat(trip: CountedTrip) -> dict[str, Any]:
    judged = judge_counts(trip.counts, trip.unit, trip.read_to, trip.tolerance)
    repeat, scale = judged.repeat, trip.pct_a_unit
    widths = {
        "spread": repeat.spread,
        "mean_within": judged.mean_within,
        "next_within": judged.next_within,
        "tolerance": trip.tolerance,
    }
    in_pct = (
        {name: _rounded(value * scale) for name, value in widths.items() if value is not None}
        if scale
        else None
    )
    return {
        "rotor": trip.rotor,
        "towards": trip.towards,
        "unit": trip.unit,
        "count": repeat.count,
        "mean": _rounded(repeat.mean),
        "least": _rounded(repeat.least),
        "most": _rounded(repeat.most),
        **{name: _rounded(value) for name, value in widths.items()},
        "pct": in_pct,
        "standing": judged.standing,
        "sentence": judged.sentence,
    }


def _drift(trip: DriftingTrip) -> dict[str, Any]:
    found = drift_of(trip.jobs, trip.set_at_pct, trip.tolerance_pct)
    in_order = sorted(trip.jobs, key=lambda job: job.day)
    return {
        "rotor": trip.rotor,
        "jobs": len(trip.jobs),
        "now_pct": _rounded(found.now_pct),
        "pct_a_year": _rounded(found.pct_a_year),
        "sigma_a_year": _rounded(found.sigma_a_year),
        "widened": _rounded(found.widened),
        "stands_out": found.stands_out,
        "leaves_in_days": _rounded(found.leaves_in_days),
        "leaves_on": _day(trip.last, found.leaves_in_days),
        "earliest_on": _day(trip.last, found.earliest_days),
        "between": [_between(earlier, later) for earlier, later in pairwise(in_order)],
        "sentence": found.sentence,
    }


def _between(earlier: TripRecord, later: TripRecord) -> dict[str, Any]:
    """Return how far a trip point was found from where the job before had left it."""
    difference, sigma = difference_of(earlier, later)
    return {
        "from": date.fromordinal(int(earlier.day)).isoformat(),
        "to": date.fromordinal(int(later.day)).isoformat(),
        "difference_pct": _rounded(difference),
        "sigma_pct": _rounded(sigma),
        "stands_out": abs(difference) > WIDE * sigma,
    }


def _day(last: date, days: float | None) -> str | None:
    """Return the day so many days after the last job; None where there is none, or beyond what a calendar holds."""
    if days is None or days > (date.max - last).days - 1:
        return None
    return (last + timedelta(days=int(days))).isoformat()


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 6)
