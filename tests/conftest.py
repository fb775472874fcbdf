"""Fixtures of every room: a fresh folder, a clock that stands where it is set, a database with its tables."""

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import hypothesis
import pytest

from service.database.engine import open_engine
from service.database.journal_records import Seals
from service.database.schema import upgrade
from service.database.transaction import SqlTransactions
from service.journal.keys import SigningKey
from service.work_queue.queue import SqlWorkQueue
from tests import builders

hypothesis.settings.register_profile("house", deadline=None)  # a busy machine is no fault of the code
hypothesis.settings.load_profile("house")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport():
    """Where nothing may be skipped, a skipped test has failed, and says what is missing."""
    report = yield
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get("LIMITWITNESS_NOTHING_SKIPPED"):
        report.outcome, report.longrepr = "failed", f"Skipped: {report.longrepr}"
    return report


class StandingClock:
    """A clock that a test moves by hand."""

    def __init__(self) -> None:
        self.instant = datetime(2031, 5, 6, 7, 8, 9, tzinfo=UTC)

    def now(self) -> datetime:
        return self.instant

    def pass_(self, **span: float) -> None:
        self.instant += timedelta(**span)


@pytest.fixture
def clock() -> StandingClock:
    return StandingClock()


@pytest.fixture
def engine(tmp_path: Path):
    opened = open_engine(tmp_path / "record.sqlite")
    upgrade(opened)
    yield opened
    opened.dispose()


@pytest.fixture
def transactions(engine, clock) -> SqlTransactions:
    seals = Seals(SigningKey.from_seed(bytes(32)), builders.new_id)
    return SqlTransactions(engine, lambda connection: SqlWorkQueue(connection, clock), seals)
