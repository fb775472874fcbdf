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
from service.drawings.chart_drawing import ChartView, draw_chart
from service.drawings.chart_words import chart_in_words
from service.use_cases.tell_chart import Asked, tell_chart


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
    add_file_options(parser, "chart")


def run(options: argparse.Namespace) -> int:
    """Check the chart, print what it says, draw it where asked; return the exit status."""
    if (options.at is None) != (options.towards is None):
        print("limitwitness chart: --at and --towards belong together.", file=sys.stderr)
        return 2
    if printed_as_one(options):
        return 0
    wiring = load_wiring_file(options.file)
    as_found = load_wiring_file(options.as_found).circuits.chart if options.as_found else wiring.as_found
    asked = None if options.at is None else Asked(options.at, options.towards, options.plus_minus)
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
