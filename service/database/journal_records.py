"""The journal's entries as rows: exact bytes in, exact bytes out, and a signed head after every append."""

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import Connection, and_, desc, insert, select

from service.database import tables
from service.domain.entries import Entry, NewEntry
from service.domain.refusals import NotFound
from service.journal.chain import BEFORE_THE_FIRST, AlteredEntry, seal, unseal
from service.journal.heads import Head, SignedHead, check_head, sign_head
from service.journal.keys import SigningKey


def random_salt() -> str:
    """Return 128 random bits as hexadecimal, for the payload of one entry."""
    return secrets.token_hex(16)


@dataclass(frozen=True)
class Seals:
    """What an append needs beside the rows.

    The key that signs heads, identities for entries that have none yet, the salts of personal payloads, and
    the raw public keys that signed heads before the present one.
    """

    key: SigningKey
    new_id: Callable[[], str]
    salt: Callable[[], str] = random_salt
    earlier: frozenset[bytes] = frozenset()


class SqlJournal:
    """Implements `ports.JournalRecords` on one connection. Entries are inserted and read, never changed."""

    def __init__(self, connection: Connection, seals: Seals) -> None:
        self._connection = connection
        self._seals = seals

    def append(self, job_id: str, site_id: str, new: Sequence[NewEntry], received: str) -> list[Entry]:
        """Seal and append in order, then sign the head; the transaction MUST hold the write lock.

        Raises AlteredEntry where the newest entry is not the one that our newest signed head names: what was
        altered past the service must not get its signature.
        """
        seq, previous = self._last(job_id)
        if seq >= 0:
            self._require_signed(job_id, seq, previous)
        added: list[Entry] = []
        for entry in new:
            seq += 1
            named = replace(entry, id=entry.id or self._seals.new_id())
            sealed = seal(previous, job_id, site_id, seq, named, received, self._seals.salt())
            kept = unseal(sealed.envelope, sealed.payload)
            row = {"job_id": job_id, "seq": seq, "site_id": site_id, "id": kept.id, "kind": kept.kind}
            sealed_bytes = {"hash": sealed.hash, "envelope": sealed.envelope, "payload": sealed.payload}
            self._connection.execute(insert(tables.entries).values(**row, **sealed_bytes))
            previous = sealed.hash
            added.append(kept)
        if added:
            self._sign(job_id, site_id, Head(job_id, seq, previous, received))
        return added

    def entries(self, job_id: str, first: int = 0) -> list[Entry]:
        """Return the entries from `first` on, in order."""
        return [unseal(envelope, payload) for envelope, payload in self.sealed(job_id, first)]

    def sealed(self, job_id: str, first: int = 0) -> list[tuple[bytes, bytes | None]]:
        """Return envelope and payload bytes, in order, exactly as stored."""
        columns = tables.entries.c
        found = select(columns.envelope, columns.payload).order_by(columns.seq)
        found = found.where(and_(columns.job_id == job_id, columns.seq >= first))
        return [(row.envelope, row.payload) for row in self._connection.execute(found)]

    def head(self, job_id: str) -> SignedHead:
        """Return the newest signed head; raises NotFound for a job without entries."""
        heads = self.heads(job_id)
        if not heads:
            raise NotFound(f"There is no journal of job {job_id}.")
        return heads[-1]

    def heads(self, job_id: str) -> list[SignedHead]:
        """Return every signed head, oldest first."""
        columns = tables.heads.c
        found = select(tables.heads).where(columns.job_id == job_id).order_by(columns.seq)
        rows = self._connection.execute(found)
        return [SignedHead(row.document, row.signature, row.public_key) for row in rows]

    def _last(self, job_id: str) -> tuple[int, str]:
        columns = tables.entries.c
        found = select(columns.seq, columns.hash).where(columns.job_id == job_id).order_by(desc(columns.seq))
        row = self._connection.execute(found.limit(1)).first()
        return (row.seq, row.hash) if row else (-1, BEFORE_THE_FIRST)

    def _require_signed(self, job_id: str, seq: int, hash_: str) -> None:
        signed = self._newest_head(job_id)
        stated = None if signed is None else check_head(signed.document, signed.signature, signed.public_key)
        ours = signed is not None and signed.public_key in {self._seals.key.public_key, *self._seals.earlier}
        if stated is None or not ours or (stated.job, stated.seq, stated.hash) != (job_id, seq, hash_):
            raise AlteredEntry(
                f"Entry {seq} is not the one that the newest head of this service names.",
                hint="The record was altered; nothing was added to it.",
            )

    def _newest_head(self, job_id: str) -> SignedHead | None:
        columns = tables.heads.c
        found = select(tables.heads).where(columns.job_id == job_id).order_by(desc(columns.seq)).limit(1)
        row = self._connection.execute(found).first()
        return None if row is None else SignedHead(row.document, row.signature, row.public_key)

    def _sign(self, job_id: str, site_id: str, head: Head) -> None:
        signed = sign_head(head, self._seals.key)
        row = {"job_id": job_id, "seq": head.seq, "site_id": site_id, "document": signed.document}
        signature = {"signature": signed.signature, "public_key": signed.public_key}
        self._connection.execute(insert(tables.heads).values(**row, **signature))
