"""`limitwitness repeat FILE`: whether counted trips repeat, and whether the counts are enough to tell."""

import argparse

from service.commands.definition_files import add_schema_option, print_json, read_file
from service.definitions.trips import load_repeats
from service.drawings.figures_words import repeats_in_words
from service.use_cases.tell_repeats import tell_repeats


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the verb."""
    parser.add_argument("file", metavar="FILE", help="counts of trips, YAML or JSON")
    add_schema_option(parser, "repeats")


def run(options: argparse.Namespace) -> int:
    """Print a line a trip; return 1 where one does not repeat."""
    told = tell_repeats(load_repeats(read_file(options.file)))
    if options.json:
        for one in told:
            print_json(one)
    else:
        print(repeats_in_words(told))
    return 1 if any(one["standing"] == "does_not_repeat" for one in told) else 0
