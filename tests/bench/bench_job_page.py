"""Speed of the technician's page of a job with 2,000 entries, as ratios measured in the same run.

Against the same page of the same job when it was short, and against one replay of the long job's entries.
"""

import time

import pytest
from fastapi.testclient import TestClient

from service.compose import compose
from service.domain.entries import NewEntry
from service.domain.job import replay
from service.ports import stamp
from service.settings import Settings
from service.use_cases.job_record import load_job
from service.use_cases.sign_in import recognise
from tests.service.conftest import SETTINGS, StandInReader, prepare

pytestmark = [pytest.mark.bench, pytest.mark.timeout(600)]
ENTRIES = 2000


def seconds(work, rounds=3) -> float:
    best = float("inf")
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def test_bench_the_page_of_a_job_of_two_thousand_entries(tmp_path):
    prepared = prepare(tmp_path / "data", to_photo_step=True)
    house = compose(Settings(folder=prepared.folder, **SETTINGS), reading=StandInReader())
    token = prepared.authorizations["technician"].removeprefix("Bearer ")
    with TestClient(house.app()) as client:
        client.cookies.set("limitwitness", token)
        page = f"/jobs/{prepared.crew.job}/now"
        short = seconds(lambda: client.get(page).raise_for_status())
        asker = recognise(house.ports, token)
        with house.ports.transactions.writing() as tx:
            before = len(tx.journal.entries(prepared.crew.job))
            notes = [
                NewEntry("note_added", {"text": f"note {number}", "step": None}, person=asker.person_id)
                for number in range(ENTRIES - before)
            ]
            tx.journal.append(prepared.crew.job, asker.site_id, notes, stamp(house.ports.clock.now()))
        long = seconds(lambda: client.get(page).raise_for_status())
        with house.ports.transactions.reading() as tx:
            record = load_job(house.ports, tx, asker.site_id, prepared.crew.job)
        once = seconds(lambda: replay(record.pinned, record.entries))
    print(
        f"\npage of a job with {len(record.entries)} entries: {long / short:.1f} times its page with {before} entries, "
        f"{long / once:.1f} times one replay of its entries; {long * 1000:.0f} ms here"
    )
