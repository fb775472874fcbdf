import subprocess
import sys

import pytest
from sqlalchemy import text

from service.database.engine import open_engine
from service.database.schema import upgrade
from service.domain.refusals import TooBusy
from tests import builders


@pytest.mark.outside(
    source="SQLite documentation of PRAGMA synchronous: FULL (2) is durable over power loss in WAL mode"
)
def test_a_commit_is_synced_before_it_is_acknowledged(engine):
    with engine.begin() as connection:
        assert connection.execute(text("PRAGMA synchronous")).scalar() == 2
        assert connection.execute(text("PRAGMA journal_mode")).scalar() == "wal"
        assert connection.execute(text("PRAGMA foreign_keys")).scalar() == 1


def test_a_row_without_its_site_is_refused(transactions):
    stranger = builders.person(builders.site())
    with pytest.raises(Exception, match="FOREIGN KEY"), transactions.writing() as tx:
        tx.registers.add_person(stranger, builders.NOW)


def test_a_second_writer_waits_for_the_first(engine, tmp_path):
    script = (
        "import sqlite3, sys; c = sqlite3.connect(sys.argv[1], timeout=0.2, isolation_level=None); "
        "c.execute('BEGIN IMMEDIATE')"
    )
    with engine.execution_options(writes=True).begin():
        second = subprocess.run(
            [sys.executable, "-c", script, tmp_path / "record.sqlite"], capture_output=True, check=False
        )
    assert b"database is locked" in second.stderr


def test_a_full_database_keeps_nothing_of_the_request_and_says_so(tmp_path, clock):
    from service.database.journal_records import Seals
    from service.database.transaction import SqlTransactions
    from service.journal.keys import SigningKey
    from service.work_queue.queue import SqlWorkQueue

    file = tmp_path / "small.sqlite"
    roomy = open_engine(file)
    upgrade(roomy)
    with roomy.begin() as connection:
        pages = connection.execute(text("PRAGMA page_count")).scalar()
    full = open_engine(file, max_pages=pages + 4)
    seals = Seals(SigningKey.from_seed(bytes(32)), builders.new_id)
    small = SqlTransactions(full, lambda connection: SqlWorkQueue(connection, clock), seals)
    with pytest.raises(TooBusy, match="Nothing of this request was kept") as refused, small.writing() as tx:  # noqa: PT012 - the block is the transaction
        for number in range(2000):
            tx.registers.add_site(builders.site(f"site {number}" + "x" * 200), builders.NOW)
    assert refused.value.retry_after_s > 0
    with small.reading() as tx:
        assert tx.registers.sites() == []
