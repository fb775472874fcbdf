"""Two services on one folder: nothing is kept in the memory of one that the other would need."""

import threading

import pytest

from tests.builders import new_id
from tests.driving import Caller, Service, enrol, first_administrator
from tests.faults.consistency import entries_of, faults_in
from tests.faults.test_service_killed import Ready, note

pytestmark = pytest.mark.timeout(150)


@pytest.fixture
def ready(tmp_path) -> Ready:
    return Ready(tmp_path / "data")


def test_two_services_write_one_journal_and_see_each_others_items_at_once(ready):
    with Service(ready.folder) as one, Service(ready.folder) as other:
        here = ready.sit_down(one)
        there = Caller(other.address, None)
        other.callers.append(there)
        there.http.headers["Authorization"] = here.http.headers["Authorization"]
        there.job, there.seq = here.job, here.seq
        for number in range(12):
            writer, reader = (here, there) if number % 2 else (there, here)
            writer.seq = ready.seq + number
            taken = writer.ok(writer.item(note(number)))
            assert reader.view()["head"]["seq"] >= taken["entry"]
        technician = here.view()
        assert technician["pending"] == {}
        assert technician == there.view()
    assert faults_in(ready.folder) == []


def test_the_same_item_sent_through_both_at_once_is_one_entry(ready):
    with Service(ready.folder) as one, Service(ready.folder) as other:
        here = ready.sit_down(one)
        there = other.caller()
        there.http.headers["Authorization"] = here.http.headers["Authorization"]
        there.job = here.job
        for number in range(8):
            identity, seq, answers = new_id(), ready.seq + 1 + number, []
            together = threading.Barrier(2)

            def send(who: Caller, number=number, identity=identity, seq=seq, answers=answers) -> None:
                together.wait()  # noqa: B023 - both threads end within this turn
                answers.append(who.item(note(number), identity, seq).status_code)

            senders = [threading.Thread(target=send, args=(who,)) for who in (here, there)]
            for sender in senders:
                sender.start()
            for sender in senders:
                sender.join()
            assert sorted(answers) == [200, 201]
    assert faults_in(ready.folder) == []
    notes = [entry for entry in entries_of(ready.folder, "statement_made") if entry.body["intent"] == "note"]
    assert len(notes) == 8


def test_a_device_revoked_at_one_service_is_out_at_the_other_at_once(tmp_path):
    with Service(tmp_path / "data") as one, Service(tmp_path / "data") as other:
        administrator = first_administrator(one)
        token = enrol(administrator)
        phone = other.caller()
        device = phone.sign_in("administrator", device_token=token)["device"]
        assert phone.get("/v1/session").status_code == 200
        administrator.ok(administrator.http.delete(f"/v1/devices/{device}"))
        assert phone.get("/v1/session").status_code == 401
