"""Reads counts of trips, trip points of several jobs, and paired looks at contacts."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from service.definitions.documents import hold_to_schema, read_document
from service.definitions.quantities import quantity
from service.domain.drift import TripRecord
from service.domain.fields import in_part
from service.domain.figures import above_zero_up_to
from service.domain.refusals import BadDefinition
from service.domain.repeatability import from_whole_turns
from service.domain.second_look import Look
from service.domain.trip_repeats import around_their_mean
from service.ports import CountedTrip, CountedTrips, DriftingTrip, DriftingTrips

KINDS = ("turns", "turns_and_marks", "rim_marks", "stem_marks")
UNITS = {"turns": "turn", "turns_and_marks": "turn", "rim_marks": "degree", "stem_marks": "mm"}
WORDS = {"turn": "turns", "degree": "degrees", "mm": "mm"}
MOST = 1e5
"""Turns, or millimetres of stem travel, beyond any valve."""


def load_repeats(text: bytes) -> CountedTrips:
    """Return the counts of a file; raises BadDefinition with the field at fault."""
    document = hold_to_schema(read_document(text, "file of counts"), "repeats", "file of counts")
    a_unit = _pct_a_unit(document)
    trips = []
    for number, entry in enumerate(document["trips"]):
        if "stem_marks" not in entry and "counted_on" not in document:
            raise BadDefinition(
                "Turns of which shaft were counted is missing: ratios differ.", field="counted_on"
            )
        with in_part(f"trips[{number}]"):
            trips.append(_counted(entry, a_unit))
    return CountedTrips(document["valve"], tuple(trips))


def load_drift(text: bytes) -> DriftingTrips:
    """Return the trip points of a file; raises BadDefinition with the field at fault."""
    document = hold_to_schema(read_document(text, "file of trip points"), "drift", "file of trip points")
    trips = []
    for number, entry in enumerate(document["trips"]):
        with in_part(f"trips[{number}]"):
            trips.append(_drifting(entry))
    return DriftingTrips(document["valve"], tuple(trips))


def load_looks(text: bytes) -> tuple[Look, ...]:
    """Return the paired looks of a file; raises BadDefinition with the field at fault."""
    document = hold_to_schema(read_document(text, "file of looks"), "looks", "file of looks")
    return tuple(
        Look(
            entry["contact"],
            entry.get("step", ""),
            entry.get("look") or f"line {number + 1}",
            entry["first"],
            entry["second"],
        )
        for number, entry in enumerate(document["looks"])
    )


def _counted(entry: dict[str, Any], a_unit: Mapping[str, float]) -> CountedTrip:
    stated = [kind for kind in KINDS if kind in entry]
    if len(stated) != 1:
        raise BadDefinition(
            f"A trip has exactly one kind of count: {', '.join(KINDS)}.",
            field=stated[1] if stated else "turns",
        )
    kind = stated[0]
    unit = UNITS[kind]
    return CountedTrip(
        rotor=entry["rotor"],
        towards=entry["towards"],
        unit=WORDS[unit],
        counts=_counts(entry[kind], kind),
        counts_field=kind,
        read_to=quantity(entry["read_to"], unit, "read_to"),
        tolerance=quantity(entry["tolerance"], unit, "tolerance"),
        pct_a_unit=a_unit.get(unit),
    )


def _counts(stated: list[Any], kind: str) -> tuple[float, ...]:
    if kind == "turns":
        return tuple(float(count) for count in stated)
    if kind == "turns_and_marks":
        marks = [quantity(one["mark"], "degree", f"{kind}[{n}].mark") for n, one in enumerate(stated)]
        return tuple(from_whole_turns([one["turns"] for one in stated], marks))
    unit = UNITS[kind]
    figures = [quantity(one, unit, f"{kind}[{n}]") for n, one in enumerate(stated)]
    return tuple(around_their_mean(figures)) if kind == "rim_marks" else tuple(figures)


def _pct_a_unit(document: dict[str, Any]) -> dict[str, float]:
    """Return the percent of travel that one turn, degree or millimetre of the counts is, where it is stated."""
    found = {}
    if "stem_travel" in document:
        whole = quantity(document["stem_travel"], "mm", "stem_travel")
        found["mm"] = 100.0 / above_zero_up_to(whole, MOST, "stem_travel", "The travel of the stem in mm")
    if "turns_stop_to_stop" in document:
        whole = float(document["turns_stop_to_stop"])
        what = "The number of turns stop to stop"
        found["turn"] = 100.0 / above_zero_up_to(whole, MOST, "turns_stop_to_stop", what)
        found["degree"] = found["turn"] / 360.0
    return found


def _drifting(entry: dict[str, Any]) -> DriftingTrip:
    records, dates = [], []
    for number, job in enumerate(entry["jobs"]):
        with in_part(f"jobs[{number}]"):
            day = _day(job["date"])
            dates.append(day)
            left, warmth = job.get("left_pct"), job.get("temperature_c")
            records.append(
                TripRecord(
                    float(day.toordinal()),
                    float(job["found_pct"]),
                    float(job["doubt_pct"]),
                    None if left is None else float(left),
                    None if warmth is None else float(warmth),
                )
            )
    return DriftingTrip(
        entry["rotor"], float(entry["set_at_pct"]), float(entry["tolerance_pct"]), tuple(records), max(dates)
    )


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise BadDefinition(f"{text!r} is no day such as 2029-03-04.", field="date") from error
