"""The words and the exit status of a check, for the command line and for a package. Bare Python."""

import argparse
import json
import re
import sys
from collections.abc import Sequence
from pathlib import Path

from service.package.check import NotAPackageError, Outcome, check_package

WORDS = {"unchanged": "unchanged since recorded", "changed": "changed", "not-checkable": "not checkable"}
MOST_SHOWN = 40


def add_arguments(parser: argparse.ArgumentParser, here: Path | None = None) -> None:
    """Add the arguments of a check; `here` is the package that is meant where none is named."""
    parser.add_argument(
        "package",
        type=Path,
        metavar="PACKAGE",
        nargs=None if here is None else "?",
        default=here,
        help="folder or zip of a package",
    )
    parser.add_argument(
        "--key",
        metavar="FINGERPRINT",
        type=_fingerprint,
        help="fingerprint of the service's public key, 64 hexadecimal digits, got by another way",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of sentences")


def run(options: argparse.Namespace) -> int:
    """Check, print, and return 0 (unchanged), 1 (something was found) or 2 (no package)."""
    try:
        outcome = check_package(options.package, options.key)
    except NotAPackageError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    if options.json:
        sys.stdout.write(json.dumps(outcome.to_json(), ensure_ascii=False) + "\n")
    else:
        sys.stdout.write("\n".join(sentences(options.package, outcome)) + "\n")
    return outcome.exit_status


def main(arguments: Sequence[str], here: Path) -> int:
    """Run the check that lies in the package `here`."""
    parser = argparse.ArgumentParser(
        prog="check.py", description="Check a package: is it unchanged since recorded?"
    )
    add_arguments(parser, here)
    return run(parser.parse_args(arguments))


def sentences(place: Path, outcome: Outcome) -> list[str]:
    """Say in words what was found."""
    stranger = outcome.signer == "unknown"
    verdict = (
        "signed with another key" if stranger and outcome.verdict == "unchanged" else WORDS[outcome.verdict]
    )
    lines = [f"{place}: {verdict}"]
    contents = outcome.contents
    if contents is not None:
        entries = f"{contents.entries} entries" if contents.entries != 1 else "1 entry"
        lines.append(
            f"  job {contents.job}, {entries}, the last of {contents.head_time}, head {contents.head_hash}"
        )
        if contents.redacted:
            numbers = ", ".join(str(seq) for seq in contents.redacted)
            lines.append(f"  removed at a person's wish, with the chain intact: payload of {numbers}")
        lines += [f"  withheld: {name}: {why}" for name, why in contents.withheld.items()]
    lines += [f"  {_place(problem.path)}{problem.what}" for problem in outcome.problems[:MOST_SHOWN]]
    if len(outcome.problems) > MOST_SHOWN:
        lines.append(f"  and {len(outcome.problems) - MOST_SHOWN} more; --json lists all")
    lines.append("  " + _signer(outcome))
    return lines


def _place(path: str) -> str:
    return f"{path}: " if path else ""


def _signer(outcome: Outcome) -> str:
    if outcome.signer == "known":
        return f"The signer is the one that you named: {outcome.signed_with}."
    if outcome.signer == "unknown":
        return (
            "The signer is not the one that you named, so nothing is known of who made this package, or when."
        )
    if outcome.signed_with is None:
        return "The package names no readable key."
    return (
        f"The signer, {outcome.signed_with}, was not compared with a known key; get the service's "
        "fingerprint by another way and give it with --key."
    )


def _fingerprint(text: str) -> str:
    plain = text.replace(":", "").strip().lower()
    if not re.fullmatch(r"[0-9a-f]{64}", plain):
        raise argparse.ArgumentTypeError("a fingerprint has 64 hexadecimal digits")
    return plain
