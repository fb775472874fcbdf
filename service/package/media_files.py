"""The media of a job as files of its package: which belong in it, and under which names."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from service.domain.entries import Entry
from service.domain.refusals import Conflict, NotFound
from service.journal.digests import sha256_hex
from service.package.paths import DEFINITIONS, MEDIA, path_fault
from service.package.recorded import definitions_named, media_named

ENDINGS: Mapping[str, str] = {
    "image/jpeg": "jpg",
    "image/png": "png",
    "image/webp": "webp",
    "image/tiff": "tif",
    "image/heic": "heic",
    "audio/wav": "wav",
    "audio/x-wav": "wav",
    "audio/flac": "flac",
    "audio/ogg": "ogg",
    "audio/webm": "webm",
    "audio/mp4": "m4a",
    "application/json": "json",
    "application/jsonl": "jsonl",
    "application/yaml": "yaml",
    "text/plain": "txt",
}
"""Ending of the file of a medium, by its type; anything else ends in `bin`."""

ReadMedia = Callable[[str], bytes]
"""Returns the bytes of a medium by its SHA-256; raises NotFound or Conflict where they are lost."""


@dataclass(frozen=True)
class MediaFile:
    """What is known of one stored medium: its SHA-256, its type, and what it shows for this job.

    `shows` is photo, clip, definition or annotated; `of` is, for a definition, the name under which it is
    pinned.
    """

    sha256: str
    type: str
    shows: str
    of: str | None = None


@dataclass(frozen=True)
class Wanted:
    """One medium that belongs in the package, and where it lies there; `name` is that of a definition."""

    sha256: str
    path: str
    name: str | None = None


def wanted(entries: Sequence[Entry], known: Sequence[MediaFile]) -> Iterator[Wanted]:
    """Yield the media that entries name, and the definitions; not what only a removed payload named."""
    types = {file.sha256: file.type for file in known}
    for digest in sorted({name for entry in entries for name in media_named(entry.body)}):
        yield Wanted(digest, f"{MEDIA}{digest}.{_ending(types.get(digest))}")
    linked = {file.of: file.sha256 for file in known if file.shows == "definition" and file.of}
    named = {
        name: digest
        for entry in entries
        for name, digest in definitions_named(entry.kind, entry.seq, entry.body)
    }
    for name, digest in sorted({**linked, **named}.items()):
        yield Wanted(digest, f"{DEFINITIONS}{_file_name(name)}.{_ending(types.get(digest))}", name)


def _file_name(name: str) -> str:
    """Return the file name of a definition; one that has to be changed for that gets a mark of its own."""
    plain = re.sub(r"[^a-z0-9_-]", "-", name.lower())[:80]
    if plain == name and path_fault(plain) is None:
        return name
    return f"{plain}-{sha256_hex(name.encode())[:12]}"


def read_or_reason(digest: str, read_media: ReadMedia) -> bytes | str:
    """Return the bytes of a medium, or the reason why they are not there."""
    try:
        content = read_media(digest)
    except (NotFound, Conflict) as refusal:
        return refusal.message
    return content if sha256_hex(content) == digest else "The stored bytes no longer have this hash."


def _ending(media_type: str | None) -> str:
    return ENDINGS.get(media_type or "", "bin")
