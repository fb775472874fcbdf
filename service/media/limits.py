"""Refuses media by type, size and pixel count before anything decodes them."""

from dataclasses import dataclass

from service.domain.refusals import BadMedia
from service.media.first_bytes import is_animated, is_cut_off, pixel_size, type_of
from service.ports import Inspected, MediaShape, TooLarge

PHOTO_TYPES = {"image/jpeg", "image/png", "image/webp"}
CLIP_TYPES = {"audio/wav", "audio/flac", "audio/ogg", "audio/webm", "audio/mp4"}
DEFINITION_TYPES = {"application/yaml", "application/json", "application/jsonl", "text/plain"}
ALIASES = {
    "image/jpg": "image/jpeg",
    "audio/x-wav": "audio/wav",
    "audio/wave": "audio/wav",
    "audio/vnd.wave": "audio/wav",
    "audio/x-flac": "audio/flac",
    "audio/opus": "audio/ogg",
    "application/ogg": "audio/ogg",
    "video/webm": "audio/webm",
    "audio/x-m4a": "audio/mp4",
    "audio/m4a": "audio/mp4",
    "video/mp4": "audio/mp4",
    "text/yaml": "application/yaml",
    "application/x-yaml": "application/yaml",
    "application/x-ndjson": "application/jsonl",
}
"""Names that clients use for a type of ours."""


@dataclass(frozen=True)
class MediaLimits:
    """Largest sizes, in bytes and in pixels (width times height as the header states them)."""

    photo_max_bytes: int = 25_000_000
    photo_max_pixels: int = 60_000_000
    clip_max_bytes: int = 12_000_000
    definition_max_bytes: int = 2_000_000

    def inspect(self, content: bytes, declared: str, shape: MediaShape) -> Inspected:
        """Return what the bytes are; raises BadMedia. `declared` is the Content-Type that came with them."""
        if not content:
            raise BadMedia("The file is empty.", field="body")
        self._require_size(len(content), shape)
        stated = canonical_type(declared)
        if shape == "definition":
            return _definition(content, stated)
        found = _agreeing_type(content, stated, PHOTO_TYPES if shape == "photo" else CLIP_TYPES)
        return self._photo(content, found) if shape == "photo" else Inspected(found)

    def shape_of(self, declared: str) -> MediaShape:
        """Return which kind of media a Content-Type announces; raises BadMedia for any that is not taken."""
        return shape_of(declared)

    def largest(self, shape: MediaShape) -> int:
        """Return the greatest size of that kind, in bytes."""
        return {
            "photo": self.photo_max_bytes,
            "clip": self.clip_max_bytes,
            "definition": self.definition_max_bytes,
        }[shape]

    def _require_size(self, size: int, shape: MediaShape) -> None:
        largest = self.largest(shape)
        if size > largest:
            raise TooLarge(f"The {shape} has {size} bytes; at most {largest} are taken.", field="body")

    def _photo(self, content: bytes, found: str) -> Inspected:
        if is_animated(content, found):
            raise BadMedia("The picture is animated; a photo shows one moment.", field="body")
        size = pixel_size(content, found)
        if size is None or 0 in size:
            raise BadMedia(f"The header of this {found} is torn: it states no size.", field="body")
        if is_cut_off(content, found):
            raise BadMedia(
                f"This {found} ends before its picture does.",
                field="body",
                hint="Send it again, or take it again.",
            )
        width, height = size
        if width * height > self.photo_max_pixels:
            raise BadMedia(
                f"The photo states {width} x {height} pixels; at most {self.photo_max_pixels} are decoded.",
                field="body",
            )
        return Inspected(found, width, height)


def canonical_type(declared: str) -> str:
    """Return a Content-Type without parameters, in our spelling."""
    bare = declared.split(";", maxsplit=1)[0].strip().lower()
    return ALIASES.get(bare, bare)


def shape_of(declared: str) -> MediaShape:
    """Return which kind of media a Content-Type announces; raises BadMedia for any that we do not take."""
    bare = canonical_type(declared)
    if bare in PHOTO_TYPES:
        return "photo"
    if bare in CLIP_TYPES:
        return "clip"
    if bare in DEFINITION_TYPES:
        return "definition"
    taken = ", ".join(sorted(PHOTO_TYPES | CLIP_TYPES | DEFINITION_TYPES))
    raise BadMedia(f"Content-Type {declared!r} is not taken; taken are {taken}.", field="Content-Type")


def _agreeing_type(content: bytes, stated: str, taken: set[str]) -> str:
    found = type_of(content)
    if found is None or found not in taken:
        what = found or "none that we know"
        raise BadMedia(f"The first bytes state {what}; taken are {', '.join(sorted(taken))}.", field="body")
    if stated != found:
        raise BadMedia(f"It is labelled {stated}, but its first bytes state {found}.", field="Content-Type")
    return found


def _definition(content: bytes, stated: str) -> Inspected:
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise BadMedia(f"A definition is UTF-8 text; byte {error.start} is not.", field="body") from error
    if "\x00" in text:
        raise BadMedia("A definition is text; this one has a zero byte in it.", field="body")
    return Inspected(stated)
