"""Many phones at one service: bounded in count and time, on this machine alone."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.driving import Service, add_person, enrol, first_administrator, open_sample_job

PHONES, STATEMENTS = 8, 20
OFF = {"source": "motor_supply", "state": "off"}
NAMES = ("Ada Birk", "Bo Clegg", "Cy Dorn", "Di Elm", "Ed Fenn", "Flo Gale", "Gus Holt", "Hal Ings")

pytestmark = [pytest.mark.load, pytest.mark.timeout(240)]


def test_every_item_of_eight_phones_at_once_is_one_entry_and_the_chain_has_no_gap(tmp_path):
    with Service(tmp_path / "house") as service:
        administrator = first_administrator(service)
        people = {add_person(administrator, name, "technician"): ["technician"] for name in NAMES}
        job = open_sample_job(administrator, people)
        phones = [signed_in(service, administrator, name, job) for name in NAMES[:PHONES]]
        with ThreadPoolExecutor(PHONES) as pool:
            sent = [item for items in pool.map(send_all, phones) for item in items]
        entries = administrator.ok(administrator.get(f"/v1/jobs/{job}/entries"))
        assert [entry["seq"] for entry in entries] == list(range(len(entries)))
        made = [entry["id"] for entry in entries if entry["kind"] == "statement_made"]
        assert sorted(made) == sorted(sent)
        assert len(set(sent)) == PHONES * STATEMENTS


def signed_in(service, administrator, name, job):
    caller = service.caller()
    caller.sign_in(name.lower().replace(" ", "."), device_token=enrol(administrator, f"phone of {name}"))
    caller.job = job
    return caller


def send_all(phone):
    return [phone.say("isolate", "isolation", OFF) for _ in range(STATEMENTS)]
