"""The hash chain of one job's journal: sealing an entry once, and reading sealed entries back.

Entries are only ever added. The bytes made by `seal` are stored as they are and never made again, so a
later version of this program cannot change what an earlier one recorded.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from service.domain.entries import Entry, NewEntry, is_personal
from service.domain.refusals import Conflict
from service.journal.canonical import NotCanonical, canonical
from service.journal.digests import BEFORE_THE_FIRST, sha256_hex
from service.journal.envelope import ENVELOPE_VERSION, BadEnvelopeError, Envelope, read_envelope, read_payload

__all__ = ["BEFORE_THE_FIRST", "REDACTED", "AlteredEntry", "SealedEntry", "seal", "unseal"]


class AlteredEntry(Conflict):
    """A stored entry is not what was sealed: its envelope cannot be read or its payload does not fit."""

    code = "altered-entry"
    title = "A stored entry was altered"


@dataclass(frozen=True)
class SealedEntry:
    """The exact bytes of one entry, to be stored as they are, and the hash that the next entry will name."""

    envelope: bytes
    payload: bytes
    hash: str


REDACTED: Mapping[str, Any] = MappingProxyType({"redacted": True})
"""The body of an entry whose personal payload was removed."""


def seal(  # noqa: PLR0913 - an envelope has these parts, in this order
    previous_hash: str,
    job: str,
    site: str,
    seq: int,
    new_entry: NewEntry,
    received: str,
    salt: str,
) -> SealedEntry:
    """Return the bytes of entry `seq` (counted from 0), which follows the one whose hash is `previous_hash`.

    `previous_hash` is `BEFORE_THE_FIRST` for entry 0. `received` is the service's time, RFC 3339 in UTC.
    `salt` is at least 16 random bytes in hexadecimal, fresh for each entry; only personal payloads carry
    it. Raises `NotCanonical` for a body with values that JSON cannot state so that every reader reads the
    same, and for fields that make no envelope.
    """
    personal = is_personal(new_entry.kind)
    payload = canonical({"body": new_entry.body, "salt": salt} if personal else {"body": new_entry.body})
    envelope = canonical(
        {
            "v": ENVELOPE_VERSION,
            "job": job,
            "site": site,
            "seq": seq,
            "kind": new_entry.kind,
            "kind_v": new_entry.version,
            "id": new_entry.id or f"entry-{seq}",
            "person": new_entry.person,
            "device": new_entry.device,
            "device_seq": new_entry.device_seq,
            "device_time": new_entry.device_time,
            "boot_id": new_entry.boot_id,
            "monotonic_ns": new_entry.monotonic_ns,
            "received": received,
            "prev": previous_hash,
            "payload_sha256": sha256_hex(payload),
            "personal": personal,
        }
    )
    _read_back(envelope, payload)
    return SealedEntry(envelope, payload, sha256_hex(envelope))


def _read_back(envelope: bytes, payload: bytes) -> None:
    """Refuse what was just made if it could not be read back: it must not be written."""
    try:
        unseal(envelope, payload)
    except AlteredEntry as error:
        raise NotCanonical(f"This entry could not be read back. {error.message}") from error


def unseal(envelope: bytes, payload: bytes | None) -> Entry:
    """Return the entry that stored bytes state; a removed personal payload gives the body `REDACTED`.

    Raises `AlteredEntry` where the envelope cannot be read or the payload is not the one that it names.
    """
    try:
        stated = read_envelope(envelope)
        body = _body(stated, payload)
    except BadEnvelopeError as error:
        raise AlteredEntry(str(error)) from error
    fields = stated.fields
    return Entry(
        seq=stated.seq,
        kind=fields["kind"],
        version=fields["kind_v"],
        id=fields["id"],
        person=fields["person"],
        device=fields["device"],
        device_seq=fields["device_seq"],
        device_time=fields["device_time"],
        boot_id=fields["boot_id"],
        monotonic_ns=fields["monotonic_ns"],
        received=fields["received"],
        body=body,
        hash=stated.hash,
    )


def _body(stated: Envelope, payload: bytes | None) -> Mapping[str, Any]:
    if payload is None:
        if not stated.personal:
            raise BadEnvelopeError(
                f"The payload of entry {stated.seq} is missing, and it is not one that may be removed."
            )
        return REDACTED
    if sha256_hex(payload) != stated.payload_sha256:
        raise BadEnvelopeError(f"The payload of entry {stated.seq} is not the one that its envelope names.")
    body: Mapping[str, Any] = read_payload(payload, personal=stated.personal)
    return body
