"""The work queue as a table of our own database, so that work is queued in the transaction that caused it.

A worker claims work for a limited time. Work whose claim has run out, because its worker died, is claimed
again. Names of workers are stable (their place in the deployment): a worker that starts gives back what it
held before it died, and nobody waits for the claim to run out.
"""

import json
from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, and_, column, func, or_, select, table, update
from sqlalchemy.dialects.sqlite import insert

from service.domain.refusals import Conflict
from service.ports import Clock, WorkItem, stamp
from service.work_queue.kinds import PRIORITY

COLUMNS = (
    *("id", "site_id", "kind", "key", "job_id", "arguments", "priority", "attempts", "queued"),
    *("claimed_by", "claimed_until", "finished", "failure"),
)
work = table("work", *(column(name) for name in COLUMNS))
"""The columns that the queue uses; the table itself is made by the database's migrations."""


class SqlWorkQueue:
    """Implements `ports.WorkQueue`, and the claims of workers, on one connection."""

    def __init__(self, connection: Connection, clock: Clock) -> None:
        self._connection = connection
        self._clock = clock

    def put(self, site_id: str, job_id: str, kind: str, key: str, arguments: Mapping[str, Any]) -> None:
        """Queue work once; a key that is known already changes nothing."""
        row = {
            "site_id": site_id,
            "job_id": job_id,
            "kind": kind,
            "key": key,
            "arguments": json.dumps(dict(arguments), sort_keys=True),
            "priority": PRIORITY[kind],
            "attempts": 0,
            "queued": stamp(self._clock.now()),
        }
        self._connection.execute(insert(work).values(**row).on_conflict_do_nothing())

    def claim(self, worker: str, lease_s: float) -> WorkItem | None:
        """Take the next piece of work for `lease_s` seconds; None where nothing waits."""
        nearest = select(work.c.id).where(self._free()).order_by(work.c.priority, work.c.id).limit(1)
        return self._claim(work.c.id == nearest.scalar_subquery(), worker, lease_s)

    def claim_own(self, worker: str, key: str, lease_s: float) -> WorkItem | None:
        """Take just this piece of work for `lease_s` seconds; None where it is done or claimed."""
        return self._claim(and_(work.c.key == key, self._free()), worker, lease_s)

    def _free(self) -> ColumnElement[bool]:
        now = stamp(self._clock.now())
        free = or_(work.c.claimed_until.is_(None), work.c.claimed_until < now)
        return and_(work.c.finished.is_(None), free)

    def _claim(self, which: ColumnElement[bool], worker: str, lease_s: float) -> WorkItem | None:
        now = self._clock.now()
        claimed = {
            "claimed_by": worker,
            "claimed_until": stamp(now + timedelta(seconds=lease_s)),
            "attempts": work.c.attempts + 1,
        }
        changed = update(work).where(which).values(**claimed)
        row = self._connection.execute(changed.returning(*work.c)).first()
        return _item(row) if row else None

    def finish(self, item: WorkItem) -> None:
        """Mark work as done within this transaction; raises Conflict where it is done already."""
        self._close(item, None)

    def give_up(self, item: WorkItem, failure: str) -> None:
        """Mark work as given up, with the reason, within this transaction."""
        self._close(item, failure)

    def give_back(self, item: WorkItem, failure: str) -> None:
        """End the claim after a failed attempt, so that it can be tried again."""
        released = {"claimed_by": None, "claimed_until": None, "failure": failure}
        self._connection.execute(update(work).where(work.c.id == item.id).values(**released))

    def give_back_of(self, worker: str) -> int:
        """End the claims that `worker` held before it died; return how many."""
        held = and_(work.c.claimed_by == worker, work.c.finished.is_(None))
        released = update(work).where(held).values(claimed_by=None, claimed_until=None)
        return self._connection.execute(released).rowcount

    def waiting(self) -> int:
        """Return how many pieces of work are not finished."""
        count = select(func.count()).select_from(work).where(work.c.finished.is_(None))
        return int(self._connection.execute(count).scalar_one())

    def failures(self, job_id: str) -> list[tuple[str, str]]:
        """Return (key, reason) of work of a job that was given up."""
        given_up = and_(work.c.job_id == job_id, work.c.finished.is_not(None), work.c.failure.is_not(None))
        rows = self._connection.execute(
            select(work.c.key, work.c.failure).where(given_up).order_by(work.c.id)
        )
        return [(row.key, row.failure) for row in rows]

    def open_keys(self, job_id: str) -> list[str]:
        """Return the keys of a job's unfinished work."""
        still_open = and_(work.c.job_id == job_id, work.c.finished.is_(None))
        found = select(work.c.key).where(still_open).order_by(work.c.id)
        return list(self._connection.execute(found).scalars())

    def _close(self, item: WorkItem, failure: str | None) -> None:
        unfinished = and_(work.c.id == item.id, work.c.finished.is_(None))
        closed = {"finished": stamp(self._clock.now()), "failure": failure}
        if not self._connection.execute(update(work).where(unfinished).values(**closed)).rowcount:
            raise Conflict(f"The work {item.key} was done by another worker.")


def _item(row: Row[Any]) -> WorkItem:
    arguments = json.loads(row.arguments)
    return WorkItem(row.id, row.site_id, row.kind, row.key, row.job_id, arguments, row.attempts)
