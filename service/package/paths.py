"""Where things lie in a package, and which names of files are accepted from a stranger. Bare Python."""

import re
import unicodedata
from collections.abc import Iterable, Iterator

BAG_DECLARATION = "bagit.txt"
BAG_INFO = "bag-info.txt"
CONTENTS = "contents.json"
CONTENTS_SIGNATURE = "contents.json.sig"
SIGNING_KEY = "signing_key.pem"
HEAD = "data/head.json"
HEAD_SIGNATURE = "data/head.json.sig"
REPORT = "data/report.html"
PRINT = "data/report.pdf"
FINDINGS = "data/findings.json"
ENTRIES = "data/entries/"
MEDIA = "data/media/"
DEFINITIONS = "data/definitions/"
READINGS = "data/readings/"
HEARINGS = "data/hearings/"

ENTRY_FILE = re.compile(r"data/entries/(\d{5,})\.(envelope|payload)\.json")
MEDIA_FILE = re.compile(r"data/media/([0-9a-f]{64})\.[a-z0-9]{1,8}")
TAG_MANIFEST = re.compile(r"tagmanifest-([a-z0-9]+)\.txt")

_LONGEST = 240
_DEVICE_NAMES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


def envelope_path(seq: int) -> str:
    """Return where the envelope of entry `seq` lies."""
    return f"{ENTRIES}{seq:05d}.envelope.json"


def payload_path(seq: int) -> str:
    """Return where the payload of entry `seq` lies."""
    return f"{ENTRIES}{seq:05d}.payload.json"


def path_fault(path: str) -> str | None:
    """Say why a path inside a package is not accepted; None where it is.

    What could leave the package, or mean another file on another system, is no name for evidence: absolute
    paths, `..` and `.`, `~`, backslashes, drive letters, control characters, device names, names too long.
    """
    parts = path.split("/")
    rules = (
        (len(path) > _LONGEST, "longer than 240 characters"),
        (path.startswith("/") or re.match(r"[A-Za-z]:", path) is not None, "absolute"),
        ("\\" in path, "written with backslashes"),
        (any(unicodedata.category(character)[0] == "C" for character in path), "holding control characters"),
        (not {"", ".", ".."}.isdisjoint(parts), "going through '.', '..' or an empty name"),
        (any(part.startswith("~") for part in parts), "starting with '~'"),
        (
            any(_DEVICE_NAMES.fullmatch(part) or part != part.rstrip(". ") for part in parts),
            "another file elsewhere",
        ),
    )
    fault = next((says for broken, says in rules if broken), None)
    return None if fault is None else f"The name is not accepted: it is {fault}."


def twins(paths: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield pairs of paths that some system takes for the same file: by case or by Unicode normalisation."""
    seen: dict[str, str] = {}
    for path in paths:
        folded = unicodedata.normalize("NFC", unicodedata.normalize("NFC", path).casefold())
        first = seen.setdefault(folded, path)
        if first != path:
            yield first, path
