import hashlib

import pytest

from tests.builders import clip, new_id, photo
from tests.driving import Caller

CONTACT = {"kind": "statement", "step": "closed_end", "intent": "contact"}


def contact(label: str, state: str) -> dict:
    return {**CONTACT, "slots": {"contacts": [label], "state": state}}


def test_an_item_is_acknowledged_once_and_known_afterwards(at_photo_step):
    technician, identity = at_photo_step.technician, new_id()
    first = technician.item(contact("9", "open"), identity)
    again = technician.item(contact("9", "open"), identity, seq=technician.seq)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["entry"] == again.json()["entry"]
    assert first.json()["read_back"]
    assert again.json()["new"] is False


def test_the_same_identity_with_other_content_is_a_conflict_and_itself_an_entry(at_photo_step):
    technician, identity = at_photo_step.technician, new_id()
    technician.ok(technician.item(contact("9", "open"), identity))
    other = technician.item(contact("9", "closed"), identity, seq=technician.seq)
    assert other.status_code == 409
    entries = at_photo_step.engineer.ok(at_photo_step.engineer.get(f"/v1/jobs/{at_photo_step.job}/entries"))
    assert [e["kind"] for e in entries if e["id"] == identity or e["kind"] == "item_conflicted"] == [
        "statement_made",
        "item_conflicted",
    ]


def test_items_come_in_any_order_and_wait_past_a_gap(at_photo_step):
    technician = at_photo_step.technician
    gap = technician.seq + 1
    later = technician.ok(technician.item(contact("9", "open"), seq=gap + 1))
    assert later["pending"] is True
    device = next(iter(technician.view()["pending"]))
    assert technician.view()["pending"] == {device: [gap + 1]}
    filled = technician.ok(technician.item(contact("17", "closed"), seq=gap))
    assert filled["pending"] is False
    assert technician.view()["pending"] == {}


def test_stop_work_acts_on_arrival_even_past_a_gap(at_photo_step):
    technician = at_photo_step.technician
    stop = {"kind": "statement", "intent": "control", "slots": {"action": "stop_work"}}
    taken = technician.ok(technician.item(stop, seq=technician.seq + 9))
    assert taken["pending"] is True
    assert technician.view()["status"] == "stopped"


def test_a_photo_whose_bytes_were_not_stored_is_refused_before_it_is_an_entry(at_photo_step):
    technician = at_photo_step.technician
    before = technician.view()["head"]
    answer = technician.item({"kind": "photo", "step": "closed_end", "media": "0" * 64})
    assert answer.status_code == 404
    assert answer.json()["field"] == "media"
    assert technician.view()["head"] == before


def test_a_clip_cannot_stand_for_a_photo(at_photo_step):
    technician = at_photo_step.technician
    stored = technician.put_media(clip(), "audio/wav")
    answer = technician.item({"kind": "photo", "step": "closed_end", "media": stored})
    assert answer.status_code == 422
    assert "audio/wav" in answer.json()["detail"]


def test_items_need_an_enrolled_device(at_photo_step):
    engineer = at_photo_step.engineer
    answer = engineer.item(contact("9", "open"))
    assert answer.status_code == 403
    assert "device" in answer.json()["hint"]


def test_a_device_whose_clock_is_two_days_off_is_taken_and_its_offset_noted(at_photo_step, clock):
    technician = at_photo_step.technician
    ahead = clock.now().replace(day=clock.now().day + 2).isoformat()
    technician.http.headers["Device-Clock"] = ahead
    technician.ok(technician.item({**contact("9", "open"), "device_time": ahead}))
    devices = at_photo_step.administrator.ok(at_photo_step.administrator.get("/v1/devices"))
    assert devices[0]["clock_offset_s"] == pytest.approx(2 * 86400)
    assert [one["name"] for one in technician.view()["clocks"]] == ["blue phone"]


def test_a_device_whose_clock_is_right_is_not_mentioned(at_photo_step, clock):
    technician = at_photo_step.technician
    technician.http.headers["Device-Clock"] = clock.now().isoformat()
    technician.ok(technician.item(contact("9", "open")))
    assert technician.view()["clocks"] == []


@pytest.mark.parametrize(
    "fault",
    [
        {"device_time": "2031-05-06T09:08:07"},
        {"device_time": "half past nine"},
        {"device_seq": 0},
        {"device_seq": 2**53},
        {"kind": "rumour"},
        {"step": 5},
        {"media": "abc"},
        {"surprise": True},
    ],
)
def test_a_malformed_item_is_refused_with_its_field(at_photo_step, fault):
    technician = at_photo_step.technician
    body = {"kind": "photo", "step": "closed_end", "media": "0" * 64, **fault}
    answer = technician.item(body)
    assert answer.status_code == 422
    assert answer.json()["type"] == "/problems/malformed"
    assert next(iter(fault)) in str(answer.json()) or "kind" in fault


def put(caller: Caller, content: bytes, media_type: str, sha256: str | None = None):
    stated = sha256 or hashlib.sha256(content).hexdigest()
    return caller.http.put(f"/v1/media/{stated}", content=content, headers={"Content-Type": media_type})


@pytest.mark.parametrize(
    ("content", "media_type", "status", "says"),
    [
        (b"", "image/jpeg", 422, "empty"),
        (photo(form=".jpg")[:25], "image/jpeg", 422, "torn"),
        (photo(form=".png"), "image/jpeg", 422, "labelled"),
        (b"%PDF-1.7", "image/png", 422, "first bytes"),
        (photo(), "application/pdf", 422, "not taken"),
        (b"fLaC", "audio/wav", 422, "labelled"),
        (b"\xff\xfe", "application/yaml", 422, "UTF-8"),
        (b"x" * 2_000_001, "application/yaml", 413, "at most"),
    ],
)
def test_a_bad_file_gets_a_problem_that_says_why(crew, content, media_type, status, says):
    answer = put(crew.technician, content, media_type)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert says in answer.json()["detail"]


def test_bytes_that_were_torn_on_the_way_are_not_kept(crew):
    answer = put(crew.technician, photo(), "image/png", sha256="a" * 64)
    assert answer.status_code == 422
    assert answer.json()["field"] == "sha256"
    assert crew.technician.get("/v1/media/" + "a" * 64).status_code == 404


def test_the_same_bytes_twice_are_one_and_nobody_elses_until_a_job_holds_them(crew):
    stored = crew.technician.put_media(photo(), "image/png")
    assert crew.technician.put_media(photo(), "image/png") == stored
    assert crew.technician.get(f"/v1/media/{stored}").content == photo()
    assert crew.verifier.get(f"/v1/media/{stored}").status_code == 403


@pytest.mark.parametrize(
    "slots",
    [
        b'{"value": NaN}',
        b'{"value": 1e999}',
        b'{"value": 36893488147419103232}',
        b'{"value": "\\ud800"}',
        b'{"\\udfff": 1}',
        b'{"state": {"a": {"b": []}}, "contacts": {"x": 1}}',
        b'{"contacts": [[["9"]]], "state": ["closed"]}',
        b'{"contacts": null, "state": null}',
        b'{"state": "closed", "contacts": ' + b"[" * 2000 + b"]" * 2000 + b"}",
        b'{"value": "' + b"x" * 500_000 + b'"}',
    ],
    ids=["nan", "infinite", "huge", "surrogate", "surrogate key", "nested", "listed", "null", "deep", "long"],
)
@pytest.mark.parametrize("intent", ["contact", "measure"])
def test_strange_slots_are_taken_or_refused_and_never_break_the_service(at_photo_step, slots, intent):
    technician = at_photo_step.technician
    before = technician.view()
    head = (
        b'{"kind": "statement", "device_time": "2031-05-06T09:08:07Z", "step": "closed_end", "device_seq": '
    )
    body = (
        head + str(technician.seq + 1).encode() + b', "intent": "' + intent.encode() + b'", "slots": ' + slots
    )
    path = f"/v1/jobs/{technician.job}/items/{new_id()}"
    answer = technician.http.put(path, content=body + b"}", headers={"Content-Type": "application/json"})
    assert answer.status_code in {201, 400, 413, 422}, answer.text
    after = technician.view()
    assert after["head"]["seq"] >= before["head"]["seq"]
    if answer.status_code != 201:
        assert after["head"] == before["head"]


def test_a_body_that_is_no_text_is_a_problem(at_photo_step):
    technician = at_photo_step.technician
    path = f"/v1/jobs/{technician.job}/items/{new_id()}"
    for body, status in ((b"\xff\xfe", {400, 422}), (b"]\xe4", {400, 422}), (b"{", {422})):
        answer = technician.http.put(path, content=body, headers={"Content-Type": "application/json"})
        assert answer.status_code in status
        assert answer.json()["type"] == "/problems/malformed"


@pytest.mark.parametrize("field", ["step", "boot_id", "answers", "intent"])
def test_text_that_no_file_could_hold_is_refused_with_its_field(at_photo_step, field):
    technician = at_photo_step.technician
    body = b'{"kind": "statement", "device_time": "2031-05-06T09:08:07Z", "device_seq": 999'
    torn = body + b', "intent": "tag", "slots": {}' + b', "' + field.encode() + b'": "\\ud800"}'
    path = f"/v1/jobs/{technician.job}/items/{new_id()}"
    answer = technician.http.put(path, content=torn, headers={"Content-Type": "application/json"})
    assert answer.status_code == 422


@pytest.mark.parametrize("kind", ["photo", "statement"])
@pytest.mark.parametrize("ahead", [1, 2])
def test_an_item_for_a_step_that_there_is_not_never_blocks_the_next(at_photo_step, kind, ahead):
    technician = at_photo_step.technician
    first = technician.seq + 1
    body = {**contact("9", "open"), "step": "never_written"}
    if kind == "photo":
        body = {"kind": "photo", "step": "never_written", "media": technician.put_media(photo(), "image/png")}
    answer = technician.item(body, seq=first + ahead - 1)
    assert answer.status_code in {201, 422}
    technician.seq = first - 1 if ahead == 2 or answer.status_code == 422 else first
    technician.ok(technician.item(contact("17", "closed")))
    assert technician.view()["status"] == "open"


@pytest.mark.parametrize(
    ("step", "of", "read"),
    [
        ("prepare", "name_plate", False),
        ("prepare", "switch", True),
        ("closed_end", "switch", True),
        ("closed_end", "name_plate", True),
    ],
)
def test_a_photo_framed_on_something_else_is_kept_and_not_read_as_a_switch(at_photo_step, step, of, read):
    technician = at_photo_step.technician
    body = {"kind": "photo", "step": step, "of": of, "media": technician.put_media(photo(), "image/png")}
    item = technician.ok(technician.item(body))["item"]
    assert ({"kind": "read_photo", "item": item} in technician.view()["being_worked_on"]) is read
