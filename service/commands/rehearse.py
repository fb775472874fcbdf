"""`limitwitness rehearse FILE`: a stroke played through before it happens, a real one judged by its marks."""

import argparse
import sys

from service.commands.definition_files import (
    add_file_options,
    load_valve_file,
    print_json,
    printed_as_one,
    write_drawing,
)
from service.drawings.stroke_plot import draw_stroke
from service.drawings.stroke_words import stroke_in_words
from service.use_cases.tell_rehearsal import CAUTION, tell_rehearsal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the verb."""
    parser.add_argument(
        "file", metavar="FILE", help="valve file with its parts scale, motor and stroke, YAML or JSON"
    )
    parser.add_argument(
        "--towards", choices=["open", "closed"], help="a whole stroke in this direction instead"
    )
    parser.add_argument("--svg", metavar="OUT", help="plot the stroke to this file")
    add_file_options(parser, "valve")


def run(options: argparse.Namespace) -> int:
    """Rehearse the stroke, judge the marks where there are any, print and draw; return the exit status."""
    if printed_as_one(options):
        return 0
    valve, wiring = load_valve_file(options.file)
    told = tell_rehearsal(valve, wiring, options.towards)
    for question in told.said["questions"]:
        print(question, file=sys.stderr)
    if options.svg:
        write_drawing(options.svg, draw_stroke(valve.valve, told.stroke, told.done, told.marks))
    if options.json:
        print_json(told.said)
    else:
        print(stroke_in_words(CAUTION, told.said))
    return 1 if told.found else 0
