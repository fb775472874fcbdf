"""The report for printing: PDF, A4, page n of m with job and head on each; same facts, same bytes.

Typeset by Typst from `report.typ`, with the fonts that come with it, so that no font of the machine changes
a byte.
"""

import io
import json
import tempfile
from collections.abc import Callable, Iterator, Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

import typst
from PIL import Image, ImageOps

WIDEST = 1100
"""Pictures are printed at most this many pixels wide or high: about 300 to the inch over half a page."""

QUALITY = 80
MOST_PIXELS = 80_000_000

ReadFile = Callable[[str], bytes]
"""Returns the bytes of a picture by its path as the report names it."""


def report_print(facts: Mapping[str, Any], read: ReadFile) -> bytes:
    """Return the report as PDF.

    Pictures are printed smaller than they lie in the package, turned as their EXIF says; one that cannot be
    opened is named instead. Raises `typst.TypstError` only where the template itself is broken.
    """
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        pictures = {}
        for number, path in enumerate(sorted(set(_pictures(facts)))):
            picture = print_picture(read(path))
            if picture is not None:
                pictures[path] = f"picture-{number}.jpg"
                (root / pictures[path]).write_bytes(picture)
        (root / "facts.json").write_text(json.dumps({**facts, "pictures": pictures}, ensure_ascii=False))
        (root / "report.typ").write_bytes((files("service.package") / "report.typ").read_bytes())
        compiler = typst.Compiler(root / "report.typ", root=root, ignore_system_fonts=True)
        printed = compiler.compile(format="pdf")
    if not isinstance(printed, bytes):
        raise TypeError("The typesetter gave no PDF.")
    return printed


def print_picture(content: bytes) -> bytes | None:
    """Return a picture as a JPEG of printing size, turned upright; None where it cannot be opened."""
    try:
        with Image.open(io.BytesIO(content)) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                return None
            opened.draft("RGB", (WIDEST, WIDEST))
            upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError, Image.DecompressionBombWarning):
        return None
    upright.thumbnail((WIDEST, WIDEST))
    kept = io.BytesIO()
    upright.save(kept, "JPEG", quality=QUALITY, optimize=False)
    return kept.getvalue()


def _pictures(facts: Mapping[str, Any]) -> Iterator[str]:
    """Yield the path of every picture that the report shows."""
    whole = facts["whole"] or {"checkpoints": (), "other_photos": ()}
    shown = [
        photo for one in whole["checkpoints"] for attempt in one["attempts"] for photo in attempt["photos"]
    ]
    for photo in (*shown, *whole["other_photos"]):
        yield from (path for path in (photo["original"], photo["drawn"]) if path)
