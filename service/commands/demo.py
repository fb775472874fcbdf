"""`limitwitness demo`: one invented job through the real service, from clips and photos to a package."""

import argparse
import sys
from pathlib import Path

from service.compose import samples
from service.demo.narrator import Narrator
from service.demo.play import play_demo
from service.demo.player import WentOtherwise
from service.demo.running_service import ServiceDidNotStart
from service.demo.web import ProblemAnswer
from service.domain.refusals import Conflict

STORIES = Path("jobs") / "rw-204"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of `demo`."""
    parser.add_argument(
        "--out",
        type=Path,
        default=Path("limitwitness-demo"),
        metavar="DIR",
        help="empty or new folder for package, report and summary.json (default: %(default)s)",
    )
    parser.add_argument("--fast", action="store_true", help="play one checkpoint instead of the whole job")
    parser.add_argument("--without", metavar="FAULT", help="play the right input in the place of one fault")


def run(options: argparse.Namespace) -> int:
    """Play the demo; 0 when everything happened as scripted, refusals included, 1 when not."""
    out: Path = options.out
    if out.exists() and any(out.iterdir()):
        raise Conflict(f"{out} is not empty.", hint="Name another folder, or remove it.")
    story = "one_checkpoint.story.yaml" if options.fast else "whole_job.story.yaml"
    try:
        play_demo(samples() / STORIES / story, out, Narrator(), options.without)
    except (WentOtherwise, ProblemAnswer, ServiceDidNotStart) as otherwise:
        print(f"limitwitness demo: {otherwise}", file=sys.stderr)
        return 1
    return 0
