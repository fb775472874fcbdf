"""`limitwitness chart FILE`: checks a contact chart, says what its contacts are at a travel, and draws it.

A dangerous chart is shown as found and named so (exit status 1); an impossible one is refused (2).
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from service.commands.definition_files import add_schema_option, load_wiring_file
from service.domain.chart_dangers import Danger, dangers
from service.domain.chart_table import table_of
from service.domain.circuit_report import (
    INDICATION_WITHIN_PCT,
    bypasses,
    circuit_dangers,
    lamps_along,
    stop_of,
)
from service.domain.circuits import COMMAND_OF, DIRECTIONS, Circuits, Known, blocks_at, lamps_at
from service.domain.expected import arriving, expected_contacts, expected_rotors
from service.domain.refusals import BadDefinition
from service.domain.travel import Travel
from service.drawings.chart_drawing import ChartView, draw_chart


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the verb."""
    parser.add_argument("file", metavar="FILE", help="contact chart, YAML or JSON")
    parser.add_argument("--svg", metavar="OUT", help="draw the chart to this file")
    parser.add_argument(
        "--at", type=float, metavar="PCT", help="a travel in percent: 0 closed end, 100 open end"
    )
    parser.add_argument(
        "--towards", choices=["open", "closed"], help="the direction in which --at was reached"
    )
    parser.add_argument("--plus-minus", type=float, default=0.0, metavar="PCT", help="uncertainty of --at")
    parser.add_argument("--as-found", metavar="FILE", help="the chart as found, drawn beside this one")
    add_schema_option(parser, "chart")
    parser.add_argument("--json", action="store_true", help="print one JSON object a line")


def run(options: argparse.Namespace) -> int:
    """Check the chart, print what it says, draw it where asked; return the exit status."""
    if (options.at is None) != (options.towards is None):
        print("limitwitness chart: --at and --towards belong together.", file=sys.stderr)
        return 2
    circuits, within = load_wiring_file(options.file)
    travel = None if options.at is None else Travel(options.at, options.plus_minus)
    found = [*dangers(circuits.chart), *circuit_dangers(circuits, within or INDICATION_WITHIN_PCT)]
    for danger in found:
        print(f"Dangerous to set, {danger.field}: {danger.reason}", file=sys.stderr)
    said = _whole(circuits, found) if travel is None else _at(circuits, travel, options.towards)
    if options.json:
        print(json.dumps(said, ensure_ascii=False, allow_nan=False))
    else:
        print(_in_words(circuits, said))
    if options.svg:
        as_found = load_wiring_file(options.as_found)[0].chart if options.as_found else None
        view = ChartView(travel, as_found, tuple(found))
        _write(options.svg, draw_chart(circuits.chart, view))
    return 1 if found else 0


def _at(circuits: Circuits, travel: Travel, towards: Any) -> dict[str, Any]:  # noqa: ANN401 - one of two words, by argparse
    """Return what contacts, lamps and motor paths are at a travel reached in a direction from the far end."""
    history = arriving(travel, towards)
    rotors = expected_rotors(circuits.chart, travel, history)
    known = Known(rotors, {"closed": True, "open": True}, COMMAND_OF[towards])
    return {
        "contacts": expected_contacts(circuits.chart, travel, history),
        "lamps": lamps_at(circuits, known),
        "stops": [
            {"direction": block.direction, "by": None if block.contacts is None else _by(block.contacts)}
            for block in blocks_at(circuits, rotors)
        ],
    }


def _whole(circuits: Circuits, found: list[Danger]) -> dict[str, Any]:
    """Return everything that the chart says, travel by travel."""
    chart = circuits.chart
    table: dict[str, Any] = {}
    try:
        zones = table_of(chart)
        table = {
            "zones_pct": list(zones.zones_pct),
            "rows": {label: list(row) for label, row in zones.rows.items()},
        }
    except BadDefinition as refusal:
        print(f"No table: {refusal}", file=sys.stderr)
    return {
        "valve": chart.valve,
        "table": table,
        "stops": [{"direction": way, "by": stop_of(circuits, way).by} for way in DIRECTIONS],
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
                "length_pct": one.length_pct,
                "drive_turns": one.drive_turns,
            }
            for one in bypasses(circuits, chart.drive_turns)
        ],
        "dangers": [{"field": danger.field, "reason": danger.reason} for danger in found],
    }


def _in_words(circuits: Circuits, said: dict[str, Any]) -> str:
    if "contacts" in said:
        rows = [
            f"contact {label}: {state}   ({circuits.chart.contact(label).use})"
            for label, state in said["contacts"].items()
        ]
        rows += [f"lamp {name}: {_LIT[lit]}" for name, lit in said["lamps"].items()]
        rows += [
            f"motor towards {stop['direction']}: held by {stop['by'] or 'cannot tell'}"
            for stop in said["stops"]
        ]
        return "\n".join(rows)
    rows = [
        f"{said['valve']}: {len(circuits.chart.contacts)} contacts on {len(circuits.chart.rotors)} rotors"
    ]
    rows += [
        f"rotor {one.id} trips at {one.trip_pct:g} % towards {one.trips_towards}, resets at "
        f"{one.reset_pct:g} %"
        for one in circuits.chart.rotors
    ]
    rows += [f"towards {stop['direction']}: stopped by {stop['by']}" for stop in said["stops"]]
    rows += [
        f"towards {one['direction']}: torque switch bridged from {one['from_pct']:g} to {one['to_pct']:g} %, "
        f"{one['length_pct']:g} % of travel{_turns(one['drive_turns'])}"
        for one in said["bypasses"]
    ]
    return "\n".join(rows)


_LIT = {True: "lit", False: "dark", None: "cannot tell"}


def _turns(drive_turns: float | None) -> str:
    return "" if drive_turns is None else f", {drive_turns:.3g} drive turns"


def _by(labels: tuple[str, ...]) -> str:
    return f"contact {' and '.join(labels)}" if labels else "the circuit itself"


def _write(path: str, drawing: str) -> None:
    try:
        Path(path).write_text(drawing, encoding="utf-8")
    except OSError as error:
        raise BadDefinition(f"Cannot write {path}: {error.strerror}.", field="--svg") from error
