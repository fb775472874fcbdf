"""Tell what a contact chart says: at one travel, or of the whole stroke; the command and the API tell the same.

A dangerous chart is told as found, its dangers named; an impossible one is refused.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.domain.chart import ContactChart
from service.domain.chart_dangers import Danger
from service.domain.chart_table import table_of
from service.domain.circuit_report import bypasses, every_danger, lamps_along, stop_of
from service.domain.circuits import (
    COMMAND_OF,
    DIRECTIONS,
    Block,
    Circuits,
    Known,
    blocks_at,
    lamps_at,
    value_of,
)
from service.domain.expected import (
    ROTOR_STATES,
    along_at_checkpoint,
    arriving,
    expected_at_checkpoint,
    expected_contacts,
    expected_rotors,
)
from service.domain.fields import in_part
from service.domain.refusals import BadDefinition, Malformed
from service.domain.travel import Direction, Travel
from service.ports import Wiring

MOST_TURNING_POINTS = 50


@dataclass(frozen=True)
class Asked:
    """Of which travel it is asked: percent, half-width of its doubt, direction in which it was reached.

    `after` are the turning points before it, in percent, oldest first; without any the valve came from the far end.
    """

    at_pct: float
    towards: Direction
    plus_minus_pct: float = 0.0
    after: tuple[float, ...] = ()

    @classmethod
    def of(
        cls,
        at_pct: float | None,
        towards: Direction | None,
        plus_minus_pct: float = 0.0,
        after: Sequence[float] = (),
    ) -> "Asked | None":
        """Return the question, None where none is put; raises Malformed where a part of it is missing."""
        if at_pct is None and towards is None and not after:
            return None
        if at_pct is None or towards is None:
            missing = "at_pct" if at_pct is None else "towards"
            raise Malformed(
                "A travel and the direction in which it was reached belong together.", field=missing
            )
        return cls(at_pct, towards, plus_minus_pct, tuple(after))

    def travel(self) -> Travel:
        """Return the travel; raises BadDefinition where there is none such."""
        with in_part("", {"travel.plus_minus_pct": "plus_minus_pct", "travel": "at_pct"}):
            return Travel(self.at_pct, self.plus_minus_pct)

    def history(self) -> tuple[Travel, ...]:
        """Return the turning points; raises BadDefinition where the last movement was not towards what is said."""
        if not self.after:
            return arriving(self.travel(), self.towards)
        if len(self.after) > MOST_TURNING_POINTS:
            raise BadDefinition(f"More than {MOST_TURNING_POINTS} turning points.", field="after")
        with in_part("", {"travel": "after"}):
            points = tuple(Travel(pct) for pct in self.after)
        moved = self.at_pct - self.after[-1]
        if moved and (moved > 0) != (self.towards == "open"):
            raise BadDefinition(
                f"From {self.after[-1]:g} to {self.at_pct:g} % the valve does not move towards {self.towards}.",
                field="after",
            )
        return points


@dataclass(frozen=True)
class ChartTold:
    """What is told as JSON, and what a drawing needs: circuits, the travel, dangers, the chart as found."""

    said: Mapping[str, Any]
    circuits: Circuits
    dangers: tuple[Danger, ...]
    travel: Travel | None = None
    as_found: ContactChart | None = None


def tell_chart(wiring: Wiring, asked: Asked | None = None) -> ChartTold:
    """Return what a chart says of the whole stroke, or at the travel that is asked for."""
    circuits = wiring.circuits
    travel = asked.travel() if asked else None
    found = every_danger(circuits, wiring.indication_within_pct)
    named = {"dangers": [{"field": danger.field, "reason": danger.reason} for danger in found]}
    said = _at(circuits, travel, asked) if asked and travel else _whole(circuits)
    return ChartTold({**said, **named}, circuits, found, travel, wiring.as_found)


def tell_checkpoint(wiring: Wiring, states: Mapping[str, str]) -> dict[str, Any]:
    """Return what the contacts must be, and which bars lie along, where a checkpoint names the rotors' states.

    Raises
    ------
    BadDefinition
        A rotor or a state is named that there is not.

    """
    chart = wiring.circuits.chart
    known = {rotor.id for rotor in chart.rotors}
    for rotor, state in states.items():
        if rotor not in known:
            raise BadDefinition(f"The chart has no rotor {rotor[:40]}.", field=f"states.{rotor[:40]}")
        if state not in ROTOR_STATES:
            raise BadDefinition(
                f"A rotor is never {state[:40]}: {', '.join(ROTOR_STATES)}.", field=f"states.{rotor}"
            )
    named = {rotor: state for rotor, word in states.items() for state in ROTOR_STATES if state == word}
    contacts = expected_at_checkpoint(chart, named)
    return {"states": dict(states), "contacts": contacts, "along": along_at_checkpoint(chart, named)}


def _at(circuits: Circuits, travel: Travel, asked: Asked) -> dict[str, Any]:
    """Return what contacts, lamps and motor paths are at a travel reached by a history, under its own command."""
    history = asked.history()
    rotors = expected_rotors(circuits.chart, travel, history)
    known = Known(rotors, {"closed": True, "open": True}, COMMAND_OF[asked.towards])
    blocks = {block.direction: block for block in blocks_at(circuits, rotors)}
    return {
        "contacts": expected_contacts(circuits.chart, travel, history),
        "lamps": lamps_at(circuits, known),
        "shows": [name for name in circuits.shows if value_of(circuits, f"shows {name}", known)],
        "signals": {name: value_of(circuits, f"signal {name}", known) for name in circuits.signals},
        "stops": [_stop_here(circuits, way, blocks.get(way)) for way in DIRECTIONS],
    }


def _stop_here(circuits: Circuits, way: Direction, block: Block | None) -> dict[str, Any]:
    """Return what stops a direction, and whether it is held there at this travel; None: cannot tell."""
    if block is None:
        return {**_stop(circuits, way), "here": False}
    if block.contacts is None:
        return {**_stop(circuits, way), "here": None}
    return {**_stop(circuits, way), "by": _by(block.contacts), "here": True}


def _stop(circuits: Circuits, way: Direction) -> dict[str, Any]:
    """Return what ends a whole stroke in a direction, and at which travel in percent."""
    stop = stop_of(circuits, way)
    words = {"limit": _by(stop.contacts), "torque": "torque switch", "nothing": "nothing"}
    return {"direction": way, "by": words[stop.kind], "at_pct": stop.at_pct}


def _whole(circuits: Circuits) -> dict[str, Any]:
    """Return everything that the chart says, travel by travel."""
    chart = circuits.chart
    table: dict[str, Any] = {}
    notes = []
    try:
        zones = table_of(chart)
        table = {
            "zones_pct": list(zones.zones_pct),
            "rows": {label: list(row) for label, row in zones.rows.items()},
        }
    except BadDefinition as refusal:
        notes.append(f"No table: {refusal}")
    return {
        "valve": chart.valve,
        "table": table,
        "stops": [_stop(circuits, way) for way in DIRECTIONS],
        "lamps": {
            way: [
                {"from_pct": step.zone.from_pct, "to_pct": step.zone.to_pct, "lit": step.lit}
                for step in lamps_along(circuits, way)
                if step.zone.length_pct
            ]
            for way in DIRECTIONS
            if circuits.lamps
        },
        "bypasses": [
            {
                "direction": one.direction,
                "from_pct": one.from_pct,
                "to_pct": one.to_pct,
                "length_pct": round(one.length_pct, 6),
                "drive_turns": None if one.drive_turns is None else round(one.drive_turns, 6),
            }
            for one in bypasses(circuits, chart.drive_turns)
        ],
        "notes": notes,
    }


def _by(labels: tuple[str, ...]) -> str:
    return f"contact {' and '.join(labels)}" if labels else "the circuit itself"
