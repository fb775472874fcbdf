"""One transaction over journal, registers, listings and queue: all of it is kept, or nothing.

Errors of SQLite and of the disk below it leave here as refusals, so that nobody takes a failed write for a
kept one.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DatabaseError

from service.database.engine import is_busy, is_full
from service.database.journal_records import Seals, SqlJournal
from service.database.listings import SqlListings
from service.database.registers import SqlRegisters
from service.domain.refusals import TooBusy
from service.ports import WorkQueue


@dataclass(frozen=True)
class SqlTransaction:
    """Implements `ports.Transaction`."""

    journal: SqlJournal
    registers: SqlRegisters
    listings: SqlListings
    queue: WorkQueue


class SqlTransactions:
    """Opens transactions on one engine.

    `queue_on` makes the work queue of a connection, so that database and queue need not know each other;
    `seals` gives salts and signs the head after each append.
    """

    def __init__(self, engine: Engine, queue_on: Callable[[Connection], WorkQueue], seals: Seals) -> None:
        self._engine = engine
        self._writer = engine.execution_options(writes=True)
        self._queue_on = queue_on
        self._seals = seals

    @contextmanager
    def writing(self) -> Iterator[SqlTransaction]:
        """Begin a transaction that holds the write lock from its start; commit on leaving."""
        with _as_refusals(), self._writer.begin() as connection:
            yield self._on(connection)

    @contextmanager
    def reading(self) -> Iterator[SqlTransaction]:
        """Begin a transaction that sees one state of the record."""
        with _as_refusals(), self._engine.begin() as connection:
            yield self._on(connection)

    def _on(self, connection: Connection) -> SqlTransaction:
        return SqlTransaction(
            SqlJournal(connection, self._seals),
            SqlRegisters(connection),
            SqlListings(connection),
            self._queue_on(connection),
        )


@contextmanager
def _as_refusals() -> Iterator[None]:
    try:
        yield
    except DatabaseError as error:
        if is_full(error):
            raise TooBusy(
                "The record cannot grow: the disk or the database is full. Nothing of this request was kept.",
                retry_after_s=60,
            ) from error
        if is_busy(error):
            raise TooBusy("Another writer holds the record. Nothing was kept.", retry_after_s=2) from error
        raise
