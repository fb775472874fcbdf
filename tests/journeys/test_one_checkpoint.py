"""One checkpoint through the real service, real hearing and real reading.

What people would do, by HTTP alone.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from service.package.check import check_package
from tests.builders import AT_CLOSED_END, SAMPLES
from tests.driving import (
    Caller,
    Service,
    add_person,
    answer_typed,
    circuits_to_prove,
    enrol,
    first_administrator,
    open_sample_job,
    spoken,
)

STEP = "closed_end"
CLIPS = SAMPLES / "clips" / "rw-204"


@pytest.fixture
def service(tmp_path):
    with Service(tmp_path / "data") as running:
        yield running


@pytest.fixture
def crew(service):
    administrator = first_administrator(service)
    people = {
        add_person(administrator, name, role): [role]
        for name, role in (("Tamsin Oake", "technician"), ("Ivo Lark", "verifier"))
    }
    job = open_sample_job(administrator, people)
    technician, verifier = service.caller(), service.caller()
    technician.sign_in("tamsin.oake", device_token=enrol(administrator))
    verifier.sign_in("ivo.lark", device_token=enrol(administrator, "desk"))
    for one in (administrator, technician, verifier):
        one.job = job
    return administrator, technician, verifier


def say_and_confirm(technician: Caller, *clips: str) -> dict[str, Any]:
    for clip in clips:
        spoken(technician, STEP, CLIPS / f"{clip}.ogg")
        technician.settled()
        spoken(technician, STEP, CLIPS / "read_back_right.ogg")
    return technician.settled()


def to_the_checkpoint(technician: Caller) -> None:
    for step in ("prepare", "isolate", "prove_dead"):
        answer_typed(technician, step, circuits_to_prove(technician.view()))
    release(technician, "prove_dead")
    assert technician.view()["open_steps"][0]["id"] == STEP


def release(one: Caller, step: str) -> Any:
    one.prove()
    head = one.view()["head"]["hash"]
    return one.ok(one.post(f"/v1/jobs/{one.job}/steps/{step}/release", {"head": head}))


def photo(technician: Caller, name: str) -> dict[str, Any]:
    technician.photo(STEP, (SAMPLES / "photos" / name).read_bytes())
    return next(one for one in technician.settled()["checkpoints"] if one["step"] == STEP)["attempts"][-1]


def verdicts(attempt: dict[str, Any]) -> dict[str, str]:
    return {finding["label"]: finding["verdict"] for finding in attempt["findings"]}


@pytest.mark.timeout(180)  # about 20 clips and 2 photos, on cores that other tests share
def test_spoken_claims_and_photos_are_judged_released_and_packed(crew, tmp_path):
    administrator, technician, verifier = crew
    to_the_checkpoint(technician)
    contacts = ("9_3b_open", "17_5a_closed", "12_20_closed", "6b_11_open", "23_14_open", "2d_16_closed")
    shown = say_and_confirm(technician, "at_full_closed", "moving_to_closed", *contacts)
    assert shown["read_backs"] == []

    blurred = photo(technician, "job_002.jpg")
    assert blurred["photos"][-1]["refused"]

    attempt = photo(technician, "job_005.jpg")
    assert attempt["claims"] == AT_CLOSED_END
    assert attempt["photos"][-1]["contacts"] == AT_CLOSED_END
    assert set(verdicts(attempt).values()) == {"agreed"}

    spoken(technician, STEP, CLIPS / "9_not_open.ogg")
    held = next(one for one in technician.settled()["checkpoints"] if one["step"] == STEP)["attempts"][-1]
    assert verdicts(held)["9"] == "disputed"
    say_and_confirm(technician, "9_3b_open")

    path = f"/v1/jobs/{verifier.job}/steps/{STEP}"
    at_desk = verifier.ok(verifier.get(f"/v1/desk/{verifier.job}/{STEP}"))
    assert at_desk["blind"] is True
    assert at_desk["expected"] is None
    seen = verifier.get(f"/v1/media/{at_desk['attempts'][-1]['photos'][-1]['media']}")
    assert seen.content == (SAMPLES / "photos" / "job_005.jpg").read_bytes()
    verifier.ok(
        verifier.post(
            f"{path}/judgement", {"tag": "RW-204", "required": AT_CLOSED_END, "seen": AT_CLOSED_END}
        )
    )
    verifier.ok(verifier.post(f"{path}/opinion", {"opinion": "agree"}))
    release(verifier, STEP)

    package = tmp_path / "job.zip"
    package.write_bytes(administrator.get(f"/v1/jobs/{administrator.job}/package").content)
    again = administrator.get(f"/v1/jobs/{administrator.job}/package").content
    assert again == package.read_bytes(), "the same head gives the same bytes"
    assert check_package(package).verdict == "unchanged"


def test_a_spoken_stop_holds_the_job_at_any_step(crew):
    _, technician, _ = crew
    spoken(technician, "prepare", CLIPS / "stop_work.ogg")
    assert technician.settled()["status"] == "stopped"


def test_a_photo_with_a_wrongly_set_rotor_is_caught(crew):
    _, technician, _ = crew
    to_the_checkpoint(technician)
    wrong = {**AT_CLOSED_END, "9": "closed", "3B": "closed", "17": "open", "5A": "open"}
    for state in ("closed", "open"):
        labels = [label for label, one in wrong.items() if one == state]
        technician.confirm(STEP, technician.say(STEP, "contact", {"contacts": labels, "state": state}))
    attempt = photo(technician, "job_004.jpg")
    assert {label: verdicts(attempt)[label] for label in ("9", "3B", "17", "5A")} == dict.fromkeys(
        ("9", "3B", "17", "5A"), "off-chart"
    )


def test_what_the_sample_chart_expects_is_what_the_sample_photo_truly_shows():
    lines = (SAMPLES / "MANIFEST.jsonl").read_text().splitlines()
    line = next(one for one in map(json.loads, lines) if one["file"] == "photos/job_005.jpg")
    import yaml

    chart = yaml.safe_load(Path(SAMPLES / "jobs/rw-204/chart.yaml").read_text())
    truth = line["truth"]["contacts"]
    assert {one["label"]: truth[one["place"]] for one in chart["contacts"]} == AT_CLOSED_END
