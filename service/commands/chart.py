"""`limitwitness chart FILE`: checks a contact chart, says what its contacts are at a travel, and draws it.

A dangerous chart is shown as found and named so (exit status 1); an impossible one is refused (2).
"""

import argparse
import sys

from service.commands.definition_files import (
    add_file_options,
    load_wiring_file,
    print_json,
    printed_as_one,
    write_drawing,
)
from service.domain.chart import ContactChart
from service.domain.expected import ROTOR_STATES
from service.domain.refusals import BadDefinition
from service.drawings.chart_drawing import ChartView, draw_chart
from service.drawings.chart_words import chart_in_words
from service.ports import Wiring
from service.use_cases.tell_chart import Asked, tell_chart, tell_checkpoint


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
    parser.add_argument(
        "--after", type=float, nargs="+", default=[], metavar="PCT",
        help="turning points before --at, oldest first; else the valve came from the far end",
    )  # fmt: skip
    parser.add_argument(
        "--states", nargs="+", type=_state, metavar="ROTOR=STATE",
        help=f"what the contacts must be where a checkpoint names the rotors' states: {', '.join(ROTOR_STATES)}",
    )  # fmt: skip
    parser.add_argument("--as-found", metavar="FILE", help="the chart as found, drawn beside this one")
    add_file_options(parser, "chart")


def run(options: argparse.Namespace) -> int:
    """Check the chart, print what it says, draw it where asked; return the exit status."""
    if (options.at is None) != (options.towards is None):
        print("limitwitness chart: --at and --towards belong together.", file=sys.stderr)
        return 2
    if printed_as_one(options):
        return 0
    wiring = load_wiring_file(options.file)
    if options.states:
        return _checkpoint(wiring, dict(options.states), as_json=options.json)
    as_found = _as_found(options.as_found, wiring) if options.as_found else wiring.as_found
    asked = (
        None
        if options.at is None
        else Asked(options.at, options.towards, options.plus_minus, tuple(options.after))
    )
    told = tell_chart(wiring, asked)
    for danger in told.dangers:
        print(f"Dangerous to set, {danger.field}: {danger.reason}", file=sys.stderr)
    for note in told.said.get("notes", ()):
        print(note, file=sys.stderr)
    if options.svg:
        view = ChartView(told.travel, as_found, told.dangers)
        write_drawing(options.svg, draw_chart(told.circuits.chart, view))
    if options.json:
        print_json(told.said)
    else:
        print(chart_in_words(told.circuits, told.said))
    return 1 if told.dangers else 0


def _as_found(path: str, wiring: Wiring) -> ContactChart:
    """Return the chart as found; raises BadDefinition where it is that of another valve."""
    found = load_wiring_file(path).circuits.chart
    if found.valve != wiring.circuits.chart.valve:
        raise BadDefinition(
            f"The chart as found is that of {found.valve}, not of {wiring.circuits.chart.valve}.",
            field="--as-found",
        )
    return found


def _state(text: str) -> tuple[str, str]:
    """Return rotor and state of one argument such as R1=just_tripped."""
    rotor, joined, state = text.partition("=")
    if not joined or not rotor:
        raise argparse.ArgumentTypeError(f"{text!r} is not written as in R1=just_tripped")
    return rotor, state


def _checkpoint(wiring: Wiring, states: dict[str, str], *, as_json: bool) -> int:
    told = tell_checkpoint(wiring, states)
    if as_json:
        print_json(told)
    else:
        print("\n".join(f"contact {label}: {state}" for label, state in told["contacts"].items()))
    return 0
