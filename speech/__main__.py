"""The ear's own door: `python -m speech hear ...`, the same as `limitwitness hear`."""

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path

from speech.hearing import Hearer, Hearing
from speech.phrase import load_phrases
from speech.refusals import SpeechRefusal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of `hear`."""
    parser.add_argument(
        "--phrases", type=Path, required=True, metavar="P.jsonl", help="JSON lines of text and meaning"
    )
    parser.add_argument(
        "--model", type=Path, metavar="DIR", help="another Vosk model folder than the shipped one"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object a line")
    parser.add_argument("clips", nargs="+", metavar="CLIP", help="WAV, FLAC, Ogg, WebM or M4A")


def run(options: argparse.Namespace) -> int:
    """Hear every clip; 0 all heard, 1 some refused, 2 phrases, model or a file that cannot be read."""
    try:
        hearer = Hearer(load_phrases(options.phrases), options.model)
    except SpeechRefusal as refusal:
        print(f"hear: {refusal}", file=sys.stderr)
        return 2
    _tell(hearer)
    status = 0
    for clip in options.clips:
        try:
            raw = Path(clip).read_bytes()
        except OSError as fault:
            print(f"hear: cannot read {clip}: {fault.strerror}", file=sys.stderr)
            status = 2
            continue
        heard = hearer.hear(raw, clip)
        for note in heard.notes:
            print(f"{clip}: {note}", file=sys.stderr)
        print(json.dumps(heard.to_json()) if options.json else _line(heard), flush=True)
        if heard.verdict == "refused":
            status = max(status, 1)
    return status


def _tell(hearer: Hearer) -> None:
    for text, why in hearer.left_out.items():
        print(f"phrase {text!r}: {why}", file=sys.stderr)
    for word, sounds in hearer.pronounced.items():
        print(f"word {word!r} is in no dictionary; pronounced from its letters as {sounds}", file=sys.stderr)


def _line(heard: Hearing) -> str:
    if heard.verdict == "refused":
        return f"{heard.file}: refused: {heard.reason}"
    slots = json.dumps(heard.slots)
    return f"{heard.file}: heard {heard.text!r} ({heard.confidence:.2f}): {heard.intent} {slots}"


def main(argv: Sequence[str] | None = None) -> int:
    """Parse the command line and run."""
    parser = argparse.ArgumentParser(prog="python -m speech", description=__doc__)
    doors = parser.add_subparsers(dest="door", required=True)
    add_arguments(doors.add_parser("hear"))
    return run(parser.parse_args(argv))


if __name__ == "__main__":
    sys.exit(main())
