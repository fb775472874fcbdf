"""The door for a new layout: `layout --photo P.jpg --points POINTS.yaml --out DIR [--json]`.

It writes `layout.json`, the photo as the layout's reference, and `placed.jpg` to be checked by eye. Exit status:
0 made; 1 made, and something should be looked at again (stderr says what); 2 the photo or a point cannot be used.
"""

import argparse
import json
import sys
from pathlib import Path

from vision.layout_making import MadeLayout, make_layout
from vision.layout_picture import layout_picture
from vision.placed_points import read_points
from vision.reader import Reader
from vision.refusals import LayoutRefusal, PhotoRefusal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `layout` to a parser."""
    parser.add_argument(
        "--photo",
        required=True,
        type=Path,
        metavar="P.jpg",
        help="one photo of the switch, from straight above",
    )
    parser.add_argument(
        "--points",
        required=True,
        type=Path,
        metavar="POINTS.yaml",
        help="what was placed on it, in pixels of the photo as shown",
    )
    parser.add_argument(
        "--out", required=True, type=Path, metavar="DIR", help="layout.json, the photo and placed.jpg go here"
    )
    parser.add_argument("--json", action="store_true", help="print what was made as one JSON object")


def run(options: argparse.Namespace) -> int:
    """Make the layout, write it and say what was found; returns the exit status."""
    photo: Path = options.photo
    try:
        made = make_layout(
            read_points(options.points), photo.read_bytes(), f"reference{photo.suffix.lower()}"
        )
    except OSError as error:
        return _refused(f"{photo}: cannot be read: {error.strerror}.")
    except PhotoRefusal as refusal:
        return _refused(f"{photo}: {refusal}")
    except LayoutRefusal as refusal:
        return _refused(f"{options.points}: {refusal}")
    try:
        written = _written(made, photo, options.out)
    except OSError as error:
        return _refused(f"{options.out}: cannot be written: {error.strerror}.")
    read_back = Reader(made.layout).read(photo.read_bytes(), photo.name)
    warnings = made.warnings()
    unread = [f"{rotor.id}: {rotor.reason}" for rotor in read_back.rotors if rotor.state != "legal"]
    if read_back.verdict == "refused":
        unread = [read_back.reason]
    warnings += [f"The photo itself does not read with this layout: {why}" for why in unread]
    for text in warnings:
        print(f"layout: {text}", file=sys.stderr)
    told = made.way_up
    if options.json:
        print(json.dumps(_object(made, written, warnings, read_back.verdict)))
    else:
        print(f"{written[0]}\n{written[1]}\n{told.in_words()}")
    return 1 if warnings or not told.told else 0


def _refused(why: str) -> int:
    print(f"layout: {why}", file=sys.stderr)
    return 2


def _written(made: MadeLayout, photo: Path, folder: Path) -> tuple[Path, Path]:
    folder.mkdir(parents=True, exist_ok=True)
    layout, picture = folder / "layout.json", folder / "placed.jpg"
    if layout.exists():
        raise FileExistsError(0, "it holds a layout.json already")
    (folder / f"reference{photo.suffix.lower()}").write_bytes(photo.read_bytes())
    picture.write_bytes(layout_picture(made))
    layout.write_bytes(made.text)
    return layout, picture


def _object(
    made: MadeLayout, written: tuple[Path, Path], warnings: list[str], verdict: str
) -> dict[str, object]:
    told = made.way_up
    return {
        "layout": str(written[0]),
        "picture": str(written[1]),
        "id": made.layout.id,
        "rotors": [
            {
                "id": rotor.id,
                "moved_mm": round(rotor.moved_mm, 2),
                "circles": round(rotor.circles, 2),
                "seen": rotor.seen,
            }
            for rotor in made.rotors
        ],
        "way_up": {
            "told": told.told,
            "nearly_symmetric": told.nearly_symmetric,
            "least_margin": round(min((one.margin for one in told.whole), default=1.0), 3),
            "in_words": told.in_words(),
        },
        "distances_disagree": None if made.spread is None else round(made.spread, 4),
        "own_photo": verdict,
        "warnings": warnings,
    }
