"""`limitwitness advise FILE`: which way to turn each setting shaft, until what, how far; when not to say."""

import argparse
import json

from service.commands.definition_files import add_schema_option, load_valve_file
from service.domain.setting_advice import advise

CAUTION = (
    "Only with the power locked out, tags applied and the circuits proved dead by those on site. "
    "Local rules and the site permit come first."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the verb."""
    parser.add_argument("file", metavar="FILE", help="valve file with its part `setting`, YAML or JSON")
    add_schema_option(parser, "valve")
    parser.add_argument("--json", action="store_true", help="print one JSON object a line")


def run(options: argparse.Namespace) -> int:
    """Print the advice for each rotor; return the exit status."""
    valve, circuits = load_valve_file(options.file)
    scale = valve.scale if valve.has_scale else None
    advice = advise(circuits.chart, valve.situation, scale)
    if not options.json:
        print(CAUTION)
    for one in advice:
        if options.json:
            said = {
                "rotor": one.rotor,
                "turn": one.turn,
                "until": one.until,
                "turns": None if one.turns is None else round(one.turns, 4),
                "reason": one.reason,
            }
            print(json.dumps(said, ensure_ascii=False, allow_nan=False))
        else:
            far = "" if one.turns is None else f", about {one.turns:.2f} turns of the shaft"
            print(f"{one.rotor}: turn {one.turn}{far}. {one.reason}")
    return 0
