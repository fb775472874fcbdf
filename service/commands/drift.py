"""`limitwitness drift FILE`: how trip points drift from job to job, and when they would leave their tolerance."""

import argparse

from service.commands.definition_files import add_schema_option, print_json, read_file
from service.definitions.trips import load_drift
from service.drawings.figures_words import drift_in_words
from service.use_cases.tell_repeats import tell_drift


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the verb."""
    parser.add_argument("file", metavar="FILE", help="trip points of several jobs, YAML or JSON")
    add_schema_option(parser, "drift")


def run(options: argparse.Namespace) -> int:
    """Print a line a rotor; return 1 where a drift stands out, or a trip point lies outside its tolerance."""
    told = tell_drift(load_drift(read_file(options.file)))
    if options.json:
        for one in told:
            print_json(one)
    else:
        print(drift_in_words(told))
    return 1 if any(one["stands_out"] or one["leaves_in_days"] == 0 for one in told) else 0
