"""`limitwitness advise FILE`: which way to turn each setting shaft, until what, how far; when not to say."""

import argparse

from service.commands.definition_files import add_file_options, load_valve_file, print_json, printed_as_one
from service.drawings.stroke_words import advice_in_words
from service.use_cases.tell_advice import CAUTION, tell_advice


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the verb."""
    parser.add_argument("file", metavar="FILE", help="valve file with its part `setting`, YAML or JSON")
    add_file_options(parser, "valve")


def run(options: argparse.Namespace) -> int:
    """Print the advice for each rotor; return the exit status."""
    if printed_as_one(options):
        return 0
    valve, wiring = load_valve_file(options.file)
    advice = tell_advice(valve, wiring)
    if not options.json:
        print(advice_in_words(CAUTION, advice))
        return 0
    for one in advice:
        print_json(one)
    return 0
