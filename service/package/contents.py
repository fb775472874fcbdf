"""The signed list of everything in a package, read from its stored bytes. Bare Python."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.journal.digests import is_sha256
from service.journal.strict_json import AmbiguousJsonError, read_json

CONTENTS_TYPE = "limitwitness package"
CONTENTS_VERSION = 1

_FIELDS = {
    "type",
    "v",
    "job",
    "site",
    "head",
    "entries",
    "files",
    "redacted",
    "withheld",
    "definitions",
    "versions",
}
_HEAD_FIELDS = {"seq", "hash", "time"}


class BadContentsError(ValueError):
    """These bytes are no list of contents."""


class UnknownVersionError(BadContentsError):
    """The list was written in a form that this check does not know."""


@dataclass(frozen=True)
class Listed:
    """One file of the package: its size in bytes and the SHA-256 of its bytes."""

    bytes: int
    sha256: str


@dataclass(frozen=True)
class Contents:
    """What a package says that it holds.

    `files` lists every file but `contents.json`, its signature and the tag manifests. `head` names the
    newest entry. `redacted` are entries whose personal payload was removed, `withheld` media that entries
    name and that are not here, by SHA-256, each with the reason. `definitions` maps a pinned name to its
    file, `versions` names everything that computed a result.
    """

    job: str
    site: str
    head_seq: int
    head_hash: str
    head_time: str
    entries: int
    files: Mapping[str, Listed]
    redacted: tuple[int, ...]
    withheld: Mapping[str, str]
    definitions: Mapping[str, str]
    versions: Mapping[str, Any]


def contents_document(contents: Contents) -> dict[str, Any]:
    """Return the JSON object that states these contents."""
    return {
        "type": CONTENTS_TYPE,
        "v": CONTENTS_VERSION,
        "job": contents.job,
        "site": contents.site,
        "head": {"seq": contents.head_seq, "hash": contents.head_hash, "time": contents.head_time},
        "entries": contents.entries,
        "files": {
            path: {"bytes": file.bytes, "sha256": file.sha256} for path, file in contents.files.items()
        },
        "redacted": list(contents.redacted),
        "withheld": dict(contents.withheld),
        "definitions": dict(contents.definitions),
        "versions": dict(contents.versions),
    }


def read_contents(content: bytes) -> Contents:
    """Return what `contents.json` states.

    Raises `BadContentsError`, or `UnknownVersionError` for a later form.
    """
    try:
        stated = read_json(content)
    except AmbiguousJsonError as error:
        raise BadContentsError(str(error)) from error
    if not isinstance(stated, dict) or stated.get("type") != CONTENTS_TYPE:
        raise BadContentsError("These bytes do not state the contents of a package.")
    if stated.get("v") != CONTENTS_VERSION:
        raise UnknownVersionError(f"The contents have version {stated.get('v')!r}; this check knows 1.")
    if set(stated) != _FIELDS or not isinstance(stated["head"], dict) or set(stated["head"]) != _HEAD_FIELDS:
        raise BadContentsError("The contents lack or add fields.")
    try:
        return _contents(stated)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise BadContentsError("A field of the contents has no usable value.") from error


def _contents(stated: dict[str, Any]) -> Contents:
    head = stated["head"]
    files = {
        path: Listed(_count(file["bytes"]), _hash(file["sha256"])) for path, file in stated["files"].items()
    }
    return Contents(
        job=_text(stated["job"]),
        site=_text(stated["site"]),
        head_seq=_count(head["seq"]),
        head_hash=_hash(head["hash"]),
        head_time=_text(head["time"]),
        entries=_count(stated["entries"]),
        files=files,
        redacted=tuple(_count(seq) for seq in stated["redacted"]),
        withheld={_hash(name): _text(why) for name, why in stated["withheld"].items()},
        definitions={_text(name): _text(path) for name, path in stated["definitions"].items()},
        versions=dict(stated["versions"].items()),
    )


def _count(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise TypeError(value)
    return value


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(value)
    return value


def _hash(value: object) -> str:
    if not is_sha256(value):
        raise ValueError(value)
    return str(value)
