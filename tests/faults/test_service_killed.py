"""The service is killed in the middle of what it does, and started again on what is left."""

import shutil
import threading
import time

import httpx2
import pytest

from tests.builders import SAMPLES, new_id, photo
from tests.driving import (
    Caller,
    Service,
    add_person,
    answer_typed,
    circuits_to_prove,
    enrol,
    first_administrator,
    open_sample_job,
)
from tests.faults.consistency import entries_of, faults_in

pytestmark = pytest.mark.timeout(150)


class Ready:
    """A folder with the sample job, everything of "prove dead" said and nothing released yet."""

    def __init__(self, folder) -> None:
        self.folder = folder
        with Service(folder) as service:
            administrator = first_administrator(service)
            self.device_token = enrol(administrator)
            person = add_person(administrator, "Tamsin Oake", "technician")
            self.job = open_sample_job(administrator, {person: ["technician"]})
            technician = self.sit_down(service, seq=0)
            for step in ("prepare", "isolate", "prove_dead"):
                answer_typed(technician, step, circuits_to_prove(technician.view()))
            self.seq = technician.seq

    def sit_down(self, service: Service, seq: int | None = None) -> Caller:
        technician = service.caller()
        technician.sign_in("tamsin.oake", device_token=self.device_token)
        technician.job = self.job
        technician.seq = self.seq if seq is None else seq
        return technician


@pytest.fixture(scope="module")
def ready(tmp_path_factory) -> Ready:
    return Ready(tmp_path_factory.mktemp("ready") / "data")


@pytest.fixture
def folder(ready, tmp_path):
    shutil.copytree(ready.folder, tmp_path / "data")
    return tmp_path / "data"


def note(number: int) -> dict:
    return {"kind": "statement", "step": "prove_dead", "intent": "note", "slots": {"text": f"note {number}"}}


@pytest.mark.parametrize("after_s", [0.2, 0.8])
def test_killed_in_the_middle_of_intake_keeps_what_it_acknowledged_and_nothing_by_half(
    ready, folder, after_s
):
    sent: list[tuple[str, int, str]] = []
    acknowledged: list[str] = []
    with Service(folder) as service:
        technician = ready.sit_down(service)

        def send() -> None:
            for number in range(500):
                content = photo(40 + number % 50, 40)
                identity, technician.seq = new_id(), technician.seq + 1
                try:
                    sha256 = technician.put_media(content, "image/png")
                    sent.append((identity, technician.seq, sha256))
                    body = {"kind": "photo", "step": "prove_dead", "media": sha256}
                    if technician.item(body, identity, technician.seq).status_code == 201:
                        acknowledged.append(identity)
                except (httpx2.TransportError, AssertionError):
                    return

        sending = threading.Thread(target=send)
        sending.start()
        while not acknowledged:
            time.sleep(0.01)
        time.sleep(after_s)
        service.kill()
        sending.join()
    assert faults_in(folder) == []
    kept = {entry.id for entry in entries_of(folder, "photo_taken_in")}
    assert set(acknowledged) <= kept

    with Service(folder) as service:
        technician = ready.sit_down(service)
        for identity, seq, sha256 in sent:
            body = {"kind": "photo", "step": "prove_dead", "media": sha256}
            answer = technician.item(body, identity, seq)
            assert answer.status_code == (200 if identity in kept else 201), answer.text
    assert faults_in(folder) == []
    taken = [entry.id for entry in entries_of(folder, "photo_taken_in")]
    assert sorted(taken) == sorted({identity for identity, _, _ in sent})


@pytest.mark.parametrize("who_dies", ["the worker", "everything"])
def test_killed_in_the_middle_of_a_reading_the_photo_is_read_once_afterwards(ready, folder, who_dies):
    with Service(folder) as service:
        technician = ready.sit_down(service)
        technician.photo("prove_dead", (SAMPLES / "photos" / "job_005.jpg").read_bytes())
        while not _claimed(folder):
            time.sleep(0.01)
        if who_dies == "everything":
            service.kill()
        else:
            import os
            import signal

            for worker in service.workers():
                os.kill(worker, signal.SIGKILL)
            technician.settled()
    assert faults_in(folder) == []
    with Service(folder) as service:
        shown = ready.sit_down(service).settled()
        assert shown["given_up"] == []
    read = entries_of(folder, "photo_read")
    assert len(read) == 1
    assert read[0].body["reading"]["verdict"] == "read"
    assert faults_in(folder) == []


def _claimed(folder) -> bool:
    import sqlite3

    connection = sqlite3.connect(folder / "record.sqlite")
    try:
        rows = connection.execute("SELECT 1 FROM work WHERE claimed_by IS NOT NULL OR finished IS NOT NULL")
        return rows.fetchone() is not None
    finally:
        connection.close()


@pytest.mark.parametrize("after_ms", [0, 8, 40])
def test_killed_in_the_middle_of_a_release_it_is_released_whole_or_not_at_all(ready, folder, after_ms):
    with Service(folder) as service:
        technician = ready.sit_down(service)
        technician.prove()
        body = {"head": technician.view()["head"]["hash"]}

        def release() -> None:
            try:
                technician.post(f"/v1/jobs/{ready.job}/steps/prove_dead/release", body)
            except httpx2.TransportError:
                return

        releasing = threading.Thread(target=release)
        releasing.start()
        time.sleep(after_ms / 1000)
        service.kill()
        releasing.join()
    assert faults_in(folder) == []
    released = entries_of(folder, "hold_point_released")
    with Service(folder) as service:
        technician = ready.sit_down(service)
        step = technician.view()["open_steps"][0]["id"]
        assert step == ("closed_end" if released else "prove_dead")
        if not released:
            technician.prove()
            head = technician.view()["head"]["hash"]
            technician.ok(technician.post(f"/v1/jobs/{ready.job}/steps/prove_dead/release", {"head": head}))
    assert len(entries_of(folder, "hold_point_released")) == 1


def test_asked_to_stop_it_finishes_and_exits_with_status_0(ready, folder):
    service = Service(folder)
    technician = ready.sit_down(service)
    workers = service.workers()
    technician.photo("prove_dead", photo(), "image/png")
    assert service.stop() == 0
    assert not any(_alive(worker) for worker in workers)
    assert faults_in(folder) == []


def _alive(process: int) -> bool:
    from pathlib import Path

    return Path(f"/proc/{process}").exists()
