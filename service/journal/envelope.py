"""What an envelope and a payload document look like, read from their stored bytes. Bare Python.

An envelope states which entry it is, both clocks, the hash of the entry before it and the hash of its
payload. The payload document is `{"body": ...}`; that of an entry about a person is `{"body": ..., "salt":
...}`, so that the payload can later be removed without anybody being able to guess it back from its hash.
"""

from dataclasses import dataclass
from typing import Any

from service.journal.digests import is_sha256, sha256_hex
from service.journal.strict_json import AmbiguousJsonError, read_json

ENVELOPE_VERSION = 1

_TEXT = ("job", "site", "kind", "id", "received")
_TEXT_OR_NONE = ("person", "device", "device_time", "boot_id")
_COUNT_OR_NONE = ("device_seq", "monotonic_ns")
_HASHES = ("prev", "payload_sha256")
FIELDS = frozenset({"v", "seq", "kind_v", "personal", *_TEXT, *_TEXT_OR_NONE, *_COUNT_OR_NONE, *_HASHES})
"""Every envelope has exactly these fields."""


class BadEnvelopeError(ValueError):
    """These bytes are not an envelope of a journal entry, or not the payload document of one."""


@dataclass(frozen=True)
class Envelope:
    """One entry's envelope: its fields as stated, and the hash of its stored bytes."""

    fields: dict[str, Any]
    hash: str

    @property
    def seq(self) -> int:
        """Place of the entry in its journal, counted from 0."""
        return int(self.fields["seq"])

    @property
    def prev(self) -> str:
        """Hash of the entry before it."""
        return str(self.fields["prev"])

    @property
    def payload_sha256(self) -> str:
        """Hash of the payload document's bytes."""
        return str(self.fields["payload_sha256"])

    @property
    def personal(self) -> bool:
        """Whether the payload is about a person, salted, and may be removed."""
        return bool(self.fields["personal"])


def read_envelope(content: bytes) -> Envelope:
    """Return the envelope that these bytes state; raises `BadEnvelopeError` with the field at fault."""
    fields = _object(content, "envelope")
    if fields.get("v") != ENVELOPE_VERSION:
        raise BadEnvelopeError(
            f"The envelope has version {fields.get('v')!r}; this check knows {ENVELOPE_VERSION}."
        )
    if set(fields) != FIELDS:
        differing = ", ".join(sorted(set(fields) ^ FIELDS))
        raise BadEnvelopeError(f"The envelope lacks or adds fields: {differing}.")
    wrong = [name for name in sorted(FIELDS) if not _fits(name, fields[name])]
    if wrong:
        raise BadEnvelopeError(f"The envelope states no usable {', '.join(wrong)}.")
    return Envelope(fields, sha256_hex(content))


def read_payload(content: bytes, *, personal: bool) -> Any:  # noqa: ANN401 - a body is any JSON object
    """Return the body that a payload document states; raises `BadEnvelopeError`."""
    document = _object(content, "payload")
    if set(document) != ({"body", "salt"} if personal else {"body"}):
        raise BadEnvelopeError("The payload has a salt if and only if it is personal, and a body.")
    if personal and not (isinstance(document["salt"], str) and len(document["salt"]) >= 32):
        raise BadEnvelopeError("The salt of a personal payload has at least 16 bytes, in hexadecimal.")
    if not isinstance(document["body"], dict):
        raise BadEnvelopeError("The body of an entry is an object.")
    return document["body"]


def _object(content: bytes, what: str) -> dict[str, Any]:
    try:
        value = read_json(content)
    except AmbiguousJsonError as error:
        raise BadEnvelopeError(f"The {what} cannot be read: {error}") from error
    if not isinstance(value, dict):
        raise BadEnvelopeError(f"The {what} is not an object.")
    return value


def _fits(name: str, value: object) -> bool:
    if name in _TEXT:
        return isinstance(value, str) and value != ""
    if name in _TEXT_OR_NONE:
        return value is None or isinstance(value, str)
    if name in _COUNT_OR_NONE:
        return value is None or _is_count(value, 0)
    if name in _HASHES:
        return is_sha256(value)
    if name == "personal":
        return isinstance(value, bool)
    return _is_count(value, 0)


def _is_count(value: object, least: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= least
