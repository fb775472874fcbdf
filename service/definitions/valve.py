"""Reads a valve file: scale, motor, margins, a stroke to rehearse, what is known while a shaft is turned."""

import re
from collections.abc import Iterator
from typing import Any

from service.definitions.documents import hold_to_schema, read_document
from service.definitions.parts import Beside, part_of
from service.definitions.quantities import quantity
from service.domain.back_off import (
    HALF_A_TURN,
    PART_TURN_ORDER,
    MarginAdvice,
    MarginParts,
    advise_margin,
    part_turn_faults,
    question_about_lost_motion,
    site_rule_pct,
    true_margin_pct,
)
from service.domain.circuits import Circuits
from service.domain.fields import in_part
from service.domain.motor import Duty, Measured, Motor, loaded_rpm
from service.domain.refusals import BadDefinition
from service.domain.rehearsal import Stroke
from service.domain.setting_advice import HandwheelProof, Observation, Situation
from service.domain.stroke import Compared, Mark
from service.domain.threads import question_about, thread_of
from service.domain.travel import Direction, Evidence, Travel
from service.domain.travel_scale import (
    TravelScale,
    inches_of_dn,
    quarter_turn_scale,
    question_about_capacity,
    question_about_history,
    question_about_turns,
)

RPM = "revolution / minute"
RPM_S = "revolution / minute / second"
SHAFTS = ("handwheel", "motor", "setting_shaft")
DN = re.compile(r"\s*DN\s*(?P<dn>\d{1,4})\s*")
IN_FILE = {
    "motor.speed_rpm": "motor.speed",
    "motor.drop_out_s": "motor.drop_out",
    "motor.deceleration_rpm_s": "motor.deceleration",
    "motor.start_s": "motor.starting",
    "motor.supply_hz": "motor.supply",
    "margin.lost_motion_pct": "margin.lost_motion_handwheel_turns",
    "margin.site_rule": "margin.site_rule_handwheel_turns",
    "margin.ceiling_pct": "margin.tightness_allows_pct",
    "capacity_turns": "scale.switch_capacity_turns",
    "inches": "scale.nominal_size",
    "lost_motion": "margin.lost_motion_handwheel_turns",
}
"""Fields as the rules name them, and where they stand in the file."""


class ValveFile:
    """One valve file that fits its schema; each part is read when it is asked for, and refused by its field.

    Parameters
    ----------
    text : bytes
        The file, YAML or JSON.

    Raises
    ------
    BadDefinition
        The file cannot be used, or the part asked for is missing or contradictory.

    """

    def __init__(self, text: bytes) -> None:
        self._document = hold_to_schema(read_document(text, "valve file"), "valve", "valve file")
        self.valve: str = self._document["valve"]

    def chart(self, beside: Beside) -> dict[str, Any]:
        """Return the document of the chart that the file holds or names."""
        return part_of(self._document, "chart", "contact chart", beside)

    @property
    def scale(self) -> TravelScale:
        """The travel scale."""
        entry = self._part("scale")
        ratios = {shaft: float(entry[shaft]) for shaft in SHAFTS if shaft in entry}
        if entry["kind"] == "quarter_turn":
            with in_part("", {"scale.swing_deg": "scale.swing", "scale.per_turn": "scale.gear_ratio"}):
                return _quarter_turn(entry, ratios)
        if "drive_turns" not in entry:
            raise BadDefinition(
                "How many drive turns were counted stop to stop is missing.", field="scale.drive_turns"
            )
        with in_part("", {"scale.per_turn": "scale.lead"}):
            return TravelScale(entry["kind"], float(entry["drive_turns"]), _lead_mm(entry), **ratios)

    @property
    def motor(self) -> Motor:
        """The motor."""
        entry = self._part("motor")
        with in_part("", IN_FILE):
            return Motor(
                Measured(_speed(entry), _sigma(entry, "speed_sigma", RPM)),
                Measured(_figure(entry, "drop_out", "second"), _sigma(entry, "drop_out_sigma", "second")),
                Measured(_figure(entry, "deceleration", RPM_S), _sigma(entry, "deceleration_sigma", RPM_S)),
                Measured(_sigma(entry, "starting", "second"), _sigma(entry, "starting_sigma", "second")),
            )

    @property
    def duty(self) -> Duty:
        """What the motor's plate allows, as far as it is stated."""
        entry = self._document.get("motor", {})
        run, rest = (
            _figure(entry, name, "second") if name in entry else None for name in ("longest_run", "rest")
        )
        return Duty(run, rest, entry.get("starts_an_hour"))

    @property
    def earlier_runs(self) -> list[tuple[float, float]]:
        """Start and end of the runs before the stroke, in seconds; the stroke begins at zero."""
        runs = self._document.get("motor", {}).get("earlier_runs", [])
        return [
            (
                -quantity(run["began_before"], "second", f"motor.earlier_runs[{number}].began_before"),
                -quantity(run["ended_before"], "second", f"motor.earlier_runs[{number}].ended_before"),
            )
            for number, run in enumerate(runs)
        ]

    @property
    def questions(self) -> list[str]:
        """What the scale's figures give reason to ask about."""
        entry = self._document.get("scale")
        if entry is None:
            return []
        with in_part("", IN_FILE):
            return [question for question in self._asked(entry, self.scale) if question]

    def _asked(self, entry: dict[str, Any], scale: TravelScale) -> Iterator[str | None]:
        if "thread" in entry:
            yield question_about(thread_of(entry["thread"]))
        if "earlier_drive_turns" in entry:
            yield question_about_history(scale.drive_turns, entry["earlier_drive_turns"])
        if "switch_capacity_turns" in entry:
            yield question_about_capacity(scale, entry["switch_capacity_turns"])
        if "nominal_size" in entry and scale.kind != "quarter_turn":
            yield question_about_turns(_inches(entry["nominal_size"]), scale.drive_turns)
        margin = self._document.get("margin", {})
        if "earlier_lost_motion_handwheel_turns" in margin:
            yield question_about_lost_motion(
                margin.get("lost_motion_handwheel_turns", 0.0), margin["earlier_lost_motion_handwheel_turns"]
            )

    def margin(self, coast_pct: float) -> MarginAdvice:
        """Return the margin to set at an end, given the coast in percent of travel."""
        entry, scale = self._document.get("margin", {}), self.scale
        with in_part("", IN_FILE):
            lost = scale.pct(entry.get("lost_motion_handwheel_turns", 0.0), "handwheel")
            rule = site_rule_pct(scale, entry.get("site_rule_handwheel_turns", HALF_A_TURN))
            parts = MarginParts(rule, coast_pct, lost, entry.get("uncertainty_pct", 0.0))
            return advise_margin(parts, entry.get("tightness_allows_pct"))

    def part_turn_faults(self, towards: Direction, coast_pct: float | None) -> list[str]:
        """Return what is wrong with the order of seat, limit and stop at one end, where these angles are stated."""
        entry = self._document.get("part_turn", {}).get(towards)
        if entry is None:
            return []
        where = f"part_turn.{towards}"
        seat, limit, stop = (
            quantity(entry[name], "degree", f"{where}.{name}") for name in ("seat", "limit", "stop")
        )
        coast = 0.0 if coast_pct is None else self.scale.distance(coast_pct)
        faults = part_turn_faults(seat, limit, stop, coast)
        return (
            [*faults, f"Set in this order: {', '.join(PART_TURN_ORDER)}.".replace("_", " ")] if faults else []
        )

    def stroke(self, circuits: Circuits, towards: Direction | None = None) -> Stroke:
        """Return the stroke to rehearse; `towards` asks for a whole stroke in that direction instead."""
        entry = self._part("stroke")
        if towards is not None and towards != entry["towards"]:
            entry = {
                **entry,
                "towards": towards,
                "from_pct": 0 if towards == "open" else 100,
                "history_pct": [],
            }
        history = tuple(
            _travel(float(pct), 0.0, "stated", f"stroke.history_pct[{number}]")
            for number, pct in enumerate(entry.get("history_pct", []))
        )
        return Stroke(
            circuits, self.scale, self.motor, entry["towards"], float(entry["from_pct"]), history,
            float(entry.get("trip_sigma_pct", 0.0)),
        )  # fmt: skip

    @property
    def stroke_towards(self) -> Direction:
        """The direction of the stroke that the file states."""
        towards: Direction = self._part("stroke")["towards"]
        return towards

    @property
    def marks(self) -> tuple[Mark, ...]:
        """The time marks of a real stroke; empty where none are stated."""
        marks = self._document.get("stroke", {}).get("marks", [])
        return tuple(
            Mark(
                mark["what"],
                quantity(mark["at"], "second", f"stroke.marks[{number}].at"),
                mark.get("how", "spoken"),
            )
            for number, mark in enumerate(marks)
        )

    @property
    def compared(self) -> Compared:
        """Stroke times to compare a real stroke with."""
        entry = self._document.get("stroke", {})
        other = entry.get("other_direction")
        return Compared(
            None if other is None else quantity(other, "second", "stroke.other_direction"),
            tuple(
                quantity(each, "second", f"stroke.earlier[{number}]")
                for number, each in enumerate(entry.get("earlier", []))
            ),
        )

    @property
    def situation(self) -> Situation:
        """What is known while a setting shaft is to be turned."""
        entry = self._part("setting")
        travel = _travel(
            float(entry["travel_pct"]), entry.get("plus_minus_pct", 0.0), entry.get("evidence", "stated"),
            "setting.travel_pct",
        )  # fmt: skip
        margin = self._margin_of_the_motor()
        with in_part("setting"):
            return Situation(
                travel=travel,
                arrived_towards=entry.get("arrived_towards"),
                tripped=dict(entry["tripped"]),
                observations=tuple(Observation(**seen) for seen in entry.get("observations", [])),
                handwheel=tuple(HandwheelProof(**proof) for proof in entry.get("handwheel", [])),
                goal=entry.get("goal", "set_here"),
                way=entry.get("way", "on_approach"),
                mid_travel_shown=entry.get("mid_travel_shown", False),
                moved_while_released=entry.get("moved_while_released", False),
                tolerance_pct=float(entry.get("tolerance_pct", 0.5)),
                margin=margin,
                true_margin_pct=self._true_margin(entry),
                trips_now_at_pct={
                    rotor: float(pct) for rotor, pct in entry.get("trips_now_at_pct", {}).items()
                },
            )

    def _true_margin(self, entry: dict[str, Any]) -> float | None:
        """Return what the counted back-off leaves to the hard stop, in percent; None where none was counted."""
        turns = entry.get("backed_off_handwheel_turns")
        if turns is None:
            return None
        scale = self.scale
        lost = self._document.get("margin", {}).get("lost_motion_handwheel_turns", 0.0)
        with in_part("", {"back_off": "backed_off_handwheel_turns"}):
            return true_margin_pct(
                entry.get("way", "on_approach"), scale.pct(turns, "handwheel"), scale.pct(lost, "handwheel")
            )

    def _margin_of_the_motor(self) -> MarginAdvice | None:
        """Return the margin with the motor's own coast; None where motor, margin or scale is not stated."""
        if not {"motor", "margin", "scale"} <= set(self._document):
            return None
        return self.margin(self.scale.pct(self.motor.coast_turns, "motor"))

    @property
    def has_scale(self) -> bool:
        """Whether a travel scale is stated."""
        return "scale" in self._document

    def _part(self, name: str) -> dict[str, Any]:
        if name not in self._document:
            raise BadDefinition(f"The valve file has no part {name}, which is needed here.", field=name)
        part: dict[str, Any] = self._document[name]
        return part


def _travel(pct: float, plus_minus: float, evidence: Evidence, field: str) -> Travel:
    """Return a travel of the file; a doubt that is none is named beside it."""
    doubt = "setting.plus_minus_pct"
    with in_part("", {"travel.plus_minus_pct": doubt, "travel": field}):
        return Travel(pct, float(plus_minus), evidence)


def _inches(stated: object) -> float:
    """Return a nominal size in inches, stated as a length or as DN."""
    if isinstance(stated, str) and (size := DN.fullmatch(stated)):
        return inches_of_dn(int(size["dn"]))
    return quantity(stated, "inch", "scale.nominal_size")


def _quarter_turn(entry: dict[str, Any], ratios: dict[str, float]) -> TravelScale:
    if "gear_ratio" not in entry:
        raise BadDefinition("A quarter-turn valve needs the ratio of its gearbox.", field="scale.gear_ratio")
    swing = quantity(entry.get("swing", "90 deg"), "degree", "scale.swing")
    scale = quarter_turn_scale(float(entry["gear_ratio"]), swing, **ratios)
    counted = entry.get("drive_turns")
    if counted is not None and abs(counted - scale.drive_turns) > 0.05 * scale.drive_turns:
        raise BadDefinition(
            f"{counted:g} drive turns were counted; a swing of {swing:g} degrees through "
            f"{entry['gear_ratio']:g} to 1 "
            f"takes {scale.drive_turns:g}. One of these is wrong.",
            field="scale.drive_turns",
        )
    return scale


def _lead_mm(entry: dict[str, Any]) -> float:
    """Return the lead in mm, measured or by the thread; the two may not contradict each other."""
    stated = quantity(entry["lead"], "mm", "scale.lead") if "lead" in entry else None
    if "thread" not in entry:
        if stated is None:
            raise BadDefinition(
                "Neither a thread nor a lead says how far a turn moves the stem.", field="scale.lead"
            )
        return stated
    try:
        lead = thread_of(entry["thread"]).lead_mm
    except BadDefinition as refusal:
        raise BadDefinition(refusal.message, field="scale.thread") from refusal
    if stated is not None and abs(stated - lead) > 0.02 * lead:
        raise BadDefinition(
            f"The lead is {stated:g} mm here and {lead:g} mm by the thread {entry['thread']}.",
            field="scale.lead",
        )
    return lead if stated is None else stated


def _speed(entry: dict[str, Any]) -> float:
    if "speed" in entry:
        return _figure(entry, "speed", RPM)
    for name in ("supply", "poles", "slip"):
        if name not in entry:
            raise BadDefinition(
                "The motor's speed is stated as such, or by supply, poles and slip.", field=f"motor.{name}"
            )
    return loaded_rpm(_figure(entry, "supply", "hertz"), entry["poles"], float(entry["slip"]))


def _figure(entry: dict[str, Any], name: str, unit: str) -> float:
    return quantity(entry[name], unit, f"motor.{name}")


def _sigma(entry: dict[str, Any], name: str, unit: str) -> float:
    value = _figure(entry, name, unit) if name in entry else 0.0
    if value < 0:
        raise BadDefinition(f"{entry[name]} is less than none.", field=f"motor.{name}")
    return value
