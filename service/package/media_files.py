"""The media of a job as files of its package: which belong in it, and under which names."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from service.domain.entries import Entry
from service.domain.refusals import Conflict, NotFound
from service.journal.digests import sha256_hex
from service.package.paths import MEDIA
from service.package.recorded import media_named

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

    `shows` is photo, clip, definition or annotated; `of` names the photo that an annotated picture was
    drawn on (by SHA-256), or the pinned name of a definition.
    """

    sha256: str
    type: str
    shows: str
    of: str | None = None


def wanted(entries: Iterable[Entry], known: Iterable[MediaFile]) -> list[str]:
    """Return the SHA-256 of every medium that belongs in the package, sorted.

    These are the media that entries name, and the definitions. What only a removed payload named is left out.
    """
    named = {name for entry in entries for name in media_named(entry.body)}
    return sorted(named | {file.sha256 for file in known if file.shows == "definition"})


def media_path(digest: str, media_type: str | None) -> str:
    """Return where a medium lies in the package."""
    return f"{MEDIA}{digest}.{ENDINGS.get(media_type or '', 'bin')}"


def read_wanted(
    entries: Sequence[Entry],
    known: Sequence[MediaFile],
    read_media: ReadMedia,
) -> Iterator[tuple[str, str, bytes | str]]:
    """Yield SHA-256, path and bytes of each medium of the package; the reason instead of lost bytes."""
    types = {file.sha256: file.type for file in known}
    for digest in wanted(entries, known):
        path = media_path(digest, types.get(digest))
        try:
            content = read_media(digest)
        except (NotFound, Conflict) as refusal:
            yield digest, path, refusal.message
            continue
        damaged = sha256_hex(content) != digest
        yield digest, path, "The stored bytes no longer have this hash." if damaged else content


def definitions(known: Iterable[MediaFile], media: Mapping[str, str]) -> dict[str, str]:
    """Return the path of every pinned definition that is there, by its name."""
    named = {file.of: file.sha256 for file in known if file.shows == "definition" and file.of}
    return {name: media[digest] for name, digest in sorted(named.items()) if digest in media}
