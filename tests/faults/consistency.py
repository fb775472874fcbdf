"""Looks at a data folder from outside, as it lies on the disk: is what it holds whole?"""

import sqlite3
from pathlib import Path

from service.journal.chain import unseal
from service.journal.check import check_chain
from service.journal.heads import check_head
from service.media.store import LocalMediaStore


def faults_in(folder: Path) -> list[str]:
    """Return what is wrong with the record and the media of a folder, job by job."""
    connection = sqlite3.connect(folder / "record.sqlite")
    try:
        found = [str(row) for row in connection.execute("PRAGMA integrity_check") if row != ("ok",)]
        found += [str(row) for row in connection.execute("PRAGMA foreign_key_check")]
        for (job,) in connection.execute("SELECT id FROM jobs").fetchall():
            found += _journal_faults(connection, job) + _media_faults(connection, folder, job)
    finally:
        connection.close()
    return found


def entries_of(folder: Path, kind: str | None = None) -> list:
    """Return the entries of every job in a folder, those of one kind where it is named."""
    connection = sqlite3.connect(folder / "record.sqlite")
    try:
        rows = connection.execute("SELECT envelope, payload FROM entries ORDER BY job_id, seq").fetchall()
    finally:
        connection.close()
    entries = [unseal(envelope, payload) for envelope, payload in rows]
    return [entry for entry in entries if kind in {None, entry.kind}]


def _stored(connection: sqlite3.Connection, job: str) -> list[tuple[bytes, bytes | None]]:
    rows = connection.execute("SELECT envelope, payload FROM entries WHERE job_id = ? ORDER BY seq", (job,))
    return [tuple(row) for row in rows]


def _journal_faults(connection: sqlite3.Connection, job: str) -> list[str]:
    heads = connection.execute(
        "SELECT document, signature, public_key FROM heads WHERE job_id = ? ORDER BY seq", (job,)
    ).fetchall()
    head = check_head(*heads[-1])
    problems = check_chain(_stored(connection, job), job=job, head_seq=head.seq, head_hash=head.hash).problems
    return [f"{job} {problem}" for problem in problems]


def _media_faults(connection: sqlite3.Connection, folder: Path, job: str) -> list[str]:
    store = LocalMediaStore(folder / "media")
    known = {row[0] for row in connection.execute("SELECT sha256 FROM media")}
    found = []
    for envelope, payload in _stored(connection, job):
        named = unseal(envelope, payload).body.get("media")
        if named is None:
            continue
        if named not in known:
            found.append(f"{job} names media {named} that no row knows")
        try:
            store.get(named)
        except Exception as error:  # noqa: BLE001 - every way to fail is what is looked for
            found.append(f"{job} {error}")
    return found
