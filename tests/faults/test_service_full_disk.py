"""The disk or the database is full, or the store fails.

Earlier evidence stays whole, and the service says so.
"""

import sqlite3

import pytest

from tests.builders import photo
from tests.driving import Service, first_administrator
from tests.faults.consistency import entries_of, faults_in
from tests.faults.test_service_killed import Ready, note

pytestmark = pytest.mark.timeout(150)


@pytest.fixture
def ready(tmp_path) -> Ready:
    return Ready(tmp_path / "data")


def pages(folder) -> int:
    connection = sqlite3.connect(folder / "record.sqlite")
    try:
        return connection.execute("PRAGMA page_count").fetchone()[0]
    finally:
        connection.close()


def test_a_full_database_answers_503_and_keeps_nothing_by_half(ready):
    with Service(ready.folder, database_max_pages=str(pages(ready.folder) + 12)) as service:
        technician = ready.sit_down(service)
        kept = []
        for number in range(400):
            answer = technician.item(note(number))
            if answer.status_code != 201:
                break
            kept.append(answer.json()["item"])
        assert answer.status_code == 503
        assert int(answer.headers["Retry-After"]) > 0
        assert "Nothing of this request was kept" in answer.json()["detail"]
        assert service.process.poll() is None
    assert faults_in(ready.folder) == []
    assert set(kept) <= {entry.id for entry in entries_of(ready.folder, "statement_made")}
    with Service(ready.folder) as service:
        technician = ready.sit_down(service)
        technician.seq += len(kept)
        technician.ok(technician.item(note(999)))


def test_below_the_disk_floor_media_are_refused_and_the_record_goes_on(ready):
    with Service(ready.folder, disk_floor_bytes=str(1 << 60)) as service:
        technician = ready.sit_down(service)
        import hashlib

        content = photo()
        sha256 = hashlib.sha256(content).hexdigest()
        refused = technician.http.put(
            f"/v1/media/{sha256}", content=content, headers={"Content-Type": "image/png"}
        )
        assert refused.status_code == 503
        assert int(refused.headers["Retry-After"]) > 0
        technician.ok(technician.item(note(1)))
    assert faults_in(ready.folder) == []


def test_a_disk_that_ends_in_the_middle_of_a_file_keeps_no_half_file(ready):
    import hashlib

    limit = max(2_000_000, (ready.folder / "record.sqlite").stat().st_size + 1_000_000)
    with Service(ready.folder, limit_bytes=limit) as service:
        technician = ready.sit_down(service)
        content = photo(64, 48, ".jpg") + bytes(limit)
        sha256 = hashlib.sha256(content).hexdigest()
        refused = technician.http.put(
            f"/v1/media/{sha256}", content=content, headers={"Content-Type": "image/jpeg"}
        )
        assert refused.status_code == 503
        assert technician.get(f"/v1/media/{sha256}").status_code == 404
        assert technician.put_media(photo(), "image/png")
    assert not list((ready.folder / "media").rglob(".part-*"))
    assert faults_in(ready.folder) == []


def test_a_changed_file_in_the_store_is_named_and_not_served(ready):
    with Service(ready.folder) as service:
        technician = ready.sit_down(service)
        sha256 = technician.put_media(photo(), "image/png")
        (ready.folder / "media" / sha256[:2] / sha256).write_bytes(photo(65, 48))
        answer = technician.get(f"/v1/media/{sha256}")
        assert answer.status_code == 409
        assert "changed since" in answer.json()["detail"]


def test_a_second_start_prints_no_administrator_link(tmp_path):
    with Service(tmp_path / "data") as first:
        first_administrator(first)
    with Service(tmp_path / "data") as second:
        assert not any("Administrator" in line for line in second.said)
