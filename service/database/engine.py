"""Opens the SQLite database so that what was committed survives a loss of power.

Write-ahead log, `synchronous=FULL` (each commit is synced before it is acknowledged), foreign keys
enforced, and SQLAlchemy, not the driver, decides where a transaction begins: writers begin IMMEDIATE, so
that the journal's head that they read is still the head when they append.
"""

import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.pool import NullPool

BUSY_TIMEOUT_S = 15.0
"""How long a writer waits for another one; longer than any transaction of ours by far."""


def open_engine(file: Path, *, max_pages: int = 0) -> Engine:
    """Return an engine on `file`; `max_pages` (of 4096 bytes) limits its size, 0 means no limit."""
    engine = create_engine(f"sqlite:///{file}", poolclass=NullPool, connect_args={"timeout": BUSY_TIMEOUT_S})

    @event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None
        for pragma in pragmas(max_pages):
            connection.execute(pragma)

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:  # noqa: ANN401 - SQLAlchemy hands its own connection
        immediate = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN DEFERRED")

    return engine


def pragmas(max_pages: int = 0) -> list[str]:
    """List the pragmas of every connection, in order."""
    limit = [f"PRAGMA max_page_count = {max_pages}"] if max_pages else []
    return [
        "PRAGMA journal_mode = WAL",
        "PRAGMA synchronous = FULL",
        "PRAGMA foreign_keys = ON",
        "PRAGMA trusted_schema = OFF",
        *limit,
    ]


def is_full(error: BaseException) -> bool:
    """Tell whether the database or the disk below it refused a write for want of room."""
    cause = getattr(error, "orig", None) or error
    code = getattr(cause, "sqlite_errorcode", None)
    if code is None:
        return False
    return (code & 0xFF) in {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN}


def is_busy(error: BaseException) -> bool:
    """Tell whether another writer held the database for longer than we wait."""
    cause = getattr(error, "orig", None) or error
    code = getattr(cause, "sqlite_errorcode", None)
    return code is not None and (code & 0xFF) in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
