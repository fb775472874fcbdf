"""The `limitwitness` command: finds the verb, loads only that verb's module, and runs it.

Data goes to stdout, messages to stderr. Exit status: 0 done; 1 done, with items refused or a check that found
something; 2 unusable arguments or an unreadable input file.
"""

import argparse
import importlib
import sys
from collections.abc import Sequence

from service.domain.refusals import Refusal

VERBS = {
    "demo": "play one invented job from the sample media through the real service",
    "serve": "run the service with its embedded database and workers",
    "job": "open a job from a YAML file",
    "read": "read the cam bars in photos",
    "layout": "make a switch layout from one straight photo and the points placed on it",
    "hear": "hear phrases in sound clips",
    "phrases": "print the card of what may be said",
    "chart": "check a contact chart and draw it",
    "rehearse": "rehearse a stroke from chart, trip points and motor",
    "advise": "say which way to turn each setting shaft",
    "repeat": "say whether counted trips repeat",
    "drift": "say how trip points drift from job to job",
    "agreement": "say whether the second look is worth anything",
    "package": "make the package of a job",
    "check": "check a package; needs no service",
}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one verb and return its exit status; bad input is one line on stderr, never a traceback."""
    parser = argparse.ArgumentParser(prog="limitwitness", description=__doc__.splitlines()[0])
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="VERB")
    arguments = list(sys.argv[1:] if argv is None else argv)
    chosen = arguments[0] if arguments else None
    for verb, help_text in VERBS.items():
        command = verbs.add_parser(verb, help=help_text, description=help_text.capitalize() + ".")
        if verb == chosen:
            importlib.import_module(f"service.commands.{verb}").add_arguments(command)
    options = parser.parse_args(arguments)
    run = importlib.import_module(f"service.commands.{options.verb}").run
    try:
        return int(run(options))
    except Refusal as refusal:
        print(f"limitwitness {options.verb}: {refusal}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        return 1
    except KeyboardInterrupt:
        return 130
