"""`limitwitness phrases`: prints the card of what may be said, for one step or for all."""

import argparse
import sys

from speech.phrasebook import card, steps
from speech.refusals import SpeechRefusal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of `phrases`."""
    parser.add_argument("--step", default="", help="one step of the procedure: " + ", ".join(steps()))
    parser.add_argument("--contacts", default="", help="contact labels of the chart, joined by commas")


def run(options: argparse.Namespace) -> int:
    """Print the card; 2 for a step that has no phrases."""
    labels = [label.strip() for label in options.contacts.split(",") if label.strip()]
    try:
        print(card(options.step, labels), end="")
    except SpeechRefusal as refusal:
        print(f"phrases: {refusal}", file=sys.stderr)
        return 2
    return 0
