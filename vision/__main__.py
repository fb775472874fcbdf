"""The reader's own door: `python -m vision read --layout L.json PHOTO... [--json] [--annotate DIR]`.

`python -m vision layout` makes a layout (`vision.layout_door`).

Data goes to stdout, messages to stderr. Exit status: 0 every photo was read; 1 done, with photos refused; 2
unusable arguments or a layout that cannot be used.
"""

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from vision import layout_door
from vision.annotate import annotate
from vision.layout import Layout
from vision.layout_file import load_layout
from vision.reader import Reader
from vision.reading import Reading
from vision.refusals import VisionRefusal

_PICTURES = {".jpg", ".jpeg", ".png", ".webp"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `read` to a parser."""
    parser.add_argument("--layout", required=True, type=Path, metavar="L.json", help="the switch layout")
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object a line, one for each photo"
    )
    parser.add_argument(
        "--annotate", type=Path, metavar="DIR", help="write pictures of what was measured into this folder"
    )
    parser.add_argument(
        "photos", nargs="+", type=Path, metavar="PHOTO", help="a photo, or a folder of photos"
    )


def run(options: argparse.Namespace) -> int:
    """Read every photo and print one reading each; returns the exit status."""
    try:
        layout = load_layout(options.layout)
        reader = Reader(layout)
    except VisionRefusal as refusal:
        print(f"read: {options.layout}: {refusal}", file=sys.stderr)
        return 2
    photos = list(_listed(options.photos))
    missing = [path for path in photos if not path.is_file()]
    if missing or not photos:
        print(
            f"read: no such photo: {', '.join(map(str, missing)) or 'the folder holds none'}", file=sys.stderr
        )
        return 2
    refused = 0
    for number, path in enumerate(photos, 1):
        if len(photos) > 1 and sys.stderr.isatty():
            print(f"\r{number} of {len(photos)}", end="", file=sys.stderr, flush=True)
        reading = _one(reader, layout, path, options.annotate)
        refused += reading.verdict == "refused"
        print(json.dumps(reading.to_json()) if options.json else as_text(reading), flush=True)
    if len(photos) > 1 and sys.stderr.isatty():
        print(file=sys.stderr)
    return 1 if refused else 0


def _listed(paths: Sequence[Path]) -> Iterator[Path]:
    for path in paths:
        if path.is_dir():
            yield from sorted(p for p in path.iterdir() if p.suffix.lower() in _PICTURES)
        else:
            yield path


def _one(reader: Reader, layout: Layout, path: Path, folder: Path | None) -> Reading:
    photo = path.read_bytes()
    reading = reader.read(photo, path.name)
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        try:
            (folder / f"{path.stem}.annotated.jpg").write_bytes(annotate(photo, reading, layout))
        except VisionRefusal:
            print(f"read: {path.name}: no picture, the photo cannot be decoded", file=sys.stderr)
    return reading


def as_text(reading: Reading) -> str:
    """Lay one reading out for a person."""
    lines = [f"{reading.file}: {reading.verdict}" + (f" ({reading.reason})" if reading.reason else "")]
    for rotor in reading.rotors:
        lines.append(f"  {rotor.id}: {rotor.state}" + (f". {rotor.reason}" if rotor.reason else ""))
        lines.extend(
            f"    {bar.bar} bar {bar.state}, {bar.angle_deg:.1f} +/- {bar.sigma_deg:.1f} degrees"
            for bar in rotor.bars
            if bar.angle_deg is not None and bar.sigma_deg is not None and bar.state != "unreadable"
        )
    known = [f"{name} {state}" for name, state in reading.contacts.items() if state != "unknown"]
    if known:
        lines.append("  contacts: " + ", ".join(known))
    return "\n".join(lines)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the door; its verbs are `read` and `layout`."""
    parser = argparse.ArgumentParser(
        prog="python -m vision", description="Reads cam bars in photos of a limit switch."
    )
    verbs = parser.add_subparsers(dest="verb", required=True)
    add_arguments(verbs.add_parser("read", help="one reading per photo"))
    layout_door.add_arguments(verbs.add_parser("layout", help="a layout from one straight photo"))
    options = parser.parse_args(argv)
    try:
        return layout_door.run(options) if options.verb == "layout" else run(options)
    except BrokenPipeError:  # whoever read our output has seen enough
        sys.stderr.close()
        return 1


if __name__ == "__main__":
    sys.exit(main())
