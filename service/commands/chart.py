"""`limitwitness chart FILE`: checks a contact chart, says what its contacts are at a travel, and draws it.

A dangerous chart is shown as found and named so (exit status 1); an impossible one is refused (2).
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from service.commands.chart_in_words import in_words
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
from service.domain.expected import arriving, expected_contacts, expected_rotors
from service.domain.refusals import BadDefinition
from service.domain.travel import Direction, Travel
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
        print(in_words(circuits, said))
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
    blocks = {block.direction: block for block in blocks_at(circuits, rotors)}
    return {
        "contacts": expected_contacts(circuits.chart, travel, history),
        "lamps": lamps_at(circuits, known),
        "shows": [name for name in circuits.shows if value_of(circuits, f"shows {name}", known)],
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
                "length_pct": one.length_pct,
                "drive_turns": one.drive_turns,
            }
            for one in bypasses(circuits, chart.drive_turns)
        ],
        "dangers": [{"field": danger.field, "reason": danger.reason} for danger in found],
    }


def _by(labels: tuple[str, ...]) -> str:
    return f"contact {' and '.join(labels)}" if labels else "the circuit itself"


def _write(path: str, drawing: str) -> None:
    try:
        Path(path).write_text(drawing, encoding="utf-8")
    except OSError as error:
        raise BadDefinition(f"Cannot write {path}: {error.strerror}.", field="--svg") from error
