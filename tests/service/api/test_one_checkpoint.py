"""One checkpoint over HTTP, its photos read by a stand-in.

What agrees, what holds, what may be seen, what is served.
"""

import pytest

from service.ports import ServedRow, stamp
from tests.builders import AT_CLOSED_END, photo
from tests.driving import Caller
from tests.service.conftest import Crew

STEP = "closed_end"

WRONG = {**AT_CLOSED_END, "9": "closed", "3B": "closed", "17": "open", "5A": "open"}
"""The same with the closed-end rotor not tripped."""


def claim_all(technician: Caller, contacts=AT_CLOSED_END) -> None:
    for state in ("closed", "open"):
        labels = [label for label, one in contacts.items() if one == state]
        said = technician.say(STEP, "contact", {"contacts": labels, "state": state})
        technician.confirm(STEP, said)


def claim_travel(technician: Caller) -> None:
    for position in ("full_closed", "moving_closed"):
        technician.confirm(STEP, technician.say(STEP, "travel", {"position": position}))


@pytest.fixture
def take(at_photo_step: Crew, reader, work_off):
    """Return a function that takes a photo that shows these contacts, and has it read."""

    def take(contacts, size=(64, 48)) -> str:
        content = photo(*size)
        if contacts is not None:
            reader.show(content, contacts)
        item = at_photo_step.technician.photo(STEP, content, "image/png")
        work_off()
        return item

    return take


def judge(verifier: Caller, seen=AT_CLOSED_END, tag="RW-204"):
    path = f"/v1/jobs/{verifier.job}/steps/{STEP}/judgement"
    return verifier.post(path, {"tag": tag, "required": AT_CLOSED_END, "seen": seen})


def agree(verifier: Caller):
    return verifier.post(f"/v1/jobs/{verifier.job}/steps/{STEP}/opinion", {"opinion": "agree"})


def desk(verifier: Caller) -> dict:
    return verifier.ok(verifier.get(f"/v1/desk/{verifier.job}/{STEP}"))


def release(verifier: Caller, head: str | None = None, **more):
    body = {"head": head or desk(verifier)["head"]["hash"], **more}
    return verifier.post(f"/v1/jobs/{verifier.job}/steps/{STEP}/release", body)


def checkpoint(caller: Caller) -> dict:
    return next(one for one in caller.view()["checkpoints"] if one["step"] == STEP)


def verdicts(caller: Caller) -> set[str]:
    return {finding["verdict"] for finding in checkpoint(caller)["attempts"][-1]["findings"]}


def test_claim_photo_judgement_and_release_pass_the_hold_point(at_photo_step, take):
    technician, verifier = at_photo_step.technician, at_photo_step.verifier
    claim_travel(technician)
    claim_all(technician)
    take(AT_CLOSED_END)
    assert verdicts(technician) <= {"agreed", "not-judged"}
    shown = desk(verifier)
    assert shown["blind"] is True
    assert verifier.ok(judge(verifier))
    verifier.ok(agree(verifier))
    verifier.prove()
    done = verifier.ok(release(verifier))
    assert technician.view()["open_steps"][0]["id"] == "done"
    assert done["status"] == "open"


def test_the_verifier_sees_no_claim_reading_or_expected_state_before_judging(at_photo_step, take):
    technician, verifier = at_photo_step.technician, at_photo_step.verifier
    claim_all(technician)
    take(AT_CLOSED_END)
    for shown in (desk(verifier), checkpoint(verifier)):
        assert shown["expected"] is None
        attempt = shown["attempts"][-1]
        assert (attempt["claims"], attempt["findings"], attempt["denied"]) == (None, None, None)
        assert attempt["photos"][0]["contacts"] is None
        assert attempt["photos"][0]["annotated"] is None
    assert verifier.view()["read_backs"] == []
    bodies = verifier.ok(verifier.get(f"/v1/jobs/{verifier.job}/entries"))
    shown = [entry["kind"] for entry in bodies if entry["body"] is not None]
    assert not {"clip_heard", "photo_read", "finding_made"} & set(shown)
    verifier.ok(judge(verifier))
    after = desk(verifier)["attempts"][-1]
    assert after["claims"] == AT_CLOSED_END
    assert after["photos"][0]["contacts"] == AT_CLOSED_END


def without_identities(shown: dict) -> dict:
    """Return a desk's answer without what differs between two jobs in any case."""
    kept = {name: value for name, value in shown.items() if name not in {"head", "changed", "job"}}
    photos = [{**one, "item": "", "media": ""} for one in shown["attempts"][-1]["photos"]]
    return {**kept, "attempts": [{**shown["attempts"][-1], "photos": photos}]}


def test_the_desk_shows_the_same_before_judging_whether_all_agrees_or_not(at_photo_step, take):
    technician, verifier = at_photo_step.technician, at_photo_step.verifier
    claim_travel(technician)
    claim_all(technician)
    take(AT_CLOSED_END)
    agreed = desk(verifier)
    claim_all(technician, WRONG)
    take(WRONG, size=(66, 48))
    wrong = desk(verifier)
    wrong["attempts"][-1]["photos"] = wrong["attempts"][-1]["photos"][:1]
    assert "off-chart" in verdicts(technician)
    assert without_identities({**wrong, "photos": 1}) == without_identities({**agreed, "photos": 1})
    entries = verifier.ok(verifier.get(f"/v1/jobs/{verifier.job}/entries"))
    assert not {"gate_held", "finding_made"} & {entry["kind"] for entry in entries}


def test_the_technician_is_told_the_expected_state_only_after_claim_and_photo(at_photo_step, take):
    technician = at_photo_step.technician
    assert checkpoint(technician)["expected"] is None
    claim_all(technician)
    assert checkpoint(technician)["expected"] is None
    take(AT_CLOSED_END)
    assert checkpoint(technician)["expected"]["9"] == "open"


def test_a_wrongly_set_rotor_is_off_chart_and_cannot_be_released(at_photo_step, take):
    technician, verifier = at_photo_step.technician, at_photo_step.verifier
    claim_travel(technician)
    claim_all(technician, WRONG)
    take(WRONG)
    assert "off-chart" in verdicts(technician)
    verifier.ok(judge(verifier, seen=WRONG))
    verifier.ok(agree(verifier))
    verifier.prove()
    refused = release(verifier)
    assert refused.status_code == 409
    assert refused.json()["type"] == "/problems/held"


def test_a_photo_that_differs_from_the_claim_is_disputed(at_photo_step, take):
    claim_all(at_photo_step.technician)
    take(WRONG)
    assert "disputed" in verdicts(at_photo_step.technician)


def test_not_closed_withdraws_the_claim_and_holds(at_photo_step, take):
    technician = at_photo_step.technician
    claim_all(technician)
    take(AT_CLOSED_END)
    technician.say(STEP, "contact", {"contacts": ["17"], "state": "closed", "negated": True})
    found = {one["label"]: one for one in checkpoint(technician)["attempts"][-1]["findings"]}
    assert found["17"]["verdict"] == "disputed"
    assert found["17"]["denied"] == "closed"


def test_a_refused_photo_tells_its_reason_at_once_and_shows_nothing(at_photo_step, take):
    take(None)
    shown = checkpoint(at_photo_step.technician)["attempts"][-1]["photos"][0]
    assert shown["refused"] == "too blurred"
    assert shown["contacts"] is None


UNSURE = {
    "rotors": [
        {"id": "R1", "state": "legal", "reason": ""},
        {"id": "R2", "state": "unreadable", "reason": "R2 is too dark: hold the torch from the other side."},
        {"id": "R3", "state": "between", "reason": "R3 stands between its two positions."},
    ],
    "registration": {"way_up": "not told", "upper_edge": "the one along R1 and R2"},
}


def test_why_a_rotor_was_not_read_is_told_at_once_to_who_claims_and_to_nobody_who_judges_blind(
    at_photo_step, take, reader
):
    content = photo()
    reader.say(content, UNSURE)
    take(AT_CLOSED_END)
    told = checkpoint(at_photo_step.technician)["attempts"][-1]["photos"][0]
    assert told["unread"] == ["R2 is too dark: hold the torch from the other side."]
    assert told["asks_upper_edge"] == "the one along R1 and R2"
    blind = checkpoint(at_photo_step.verifier)["attempts"][-1]["photos"]
    assert [one["unread"] for one in blind] == [None] * len(blind)


def test_a_tap_on_the_upper_edge_reaches_the_reader_and_the_record(at_photo_step, reader, work_off):
    technician = at_photo_step.technician
    item = technician.photo(STEP, photo(), "image/png", upper_edge=[0.48, 0.125])
    work_off()
    assert reader.tapped[-1] == (0.48, 0.125)
    entries = technician.ok(technician.get(f"/v1/jobs/{technician.job}/entries"))
    taken = next(one for one in entries if one["id"] == item)
    assert taken["body"]["upper_edge"] == [0.48, 0.125]
    sha256 = technician.put_media(photo(70, 48), "image/png")
    beside = {"kind": "photo", "step": STEP, "media": sha256, "upper_edge": [0.5, 1.2]}
    assert technician.item(beside).status_code == 422


def test_a_release_without_a_fresh_sign_in_is_refused(at_photo_step, take, clock):
    technician, verifier = at_photo_step.technician, at_photo_step.verifier
    claim_travel(technician)
    claim_all(technician)
    take(AT_CLOSED_END)
    verifier.ok(judge(verifier))
    verifier.ok(agree(verifier))
    clock.pass_(seconds=121)
    refused = release(verifier)
    assert refused.status_code == 403
    assert "fresh" in refused.json()["detail"]
    verifier.prove()
    verifier.ok(release(verifier))


def test_a_release_on_an_old_head_is_refused(at_photo_step, take):
    technician, verifier = at_photo_step.technician, at_photo_step.verifier
    claim_travel(technician)
    claim_all(technician)
    take(AT_CLOSED_END)
    verifier.ok(judge(verifier))
    verifier.ok(agree(verifier))
    seen = desk(verifier)["head"]["hash"]
    technician.ok(technician.post(f"/v1/jobs/{technician.job}/notes", {"text": "one moment"}))
    verifier.prove()
    assert release(verifier, head=seen).status_code == 412


def test_nobody_but_the_verifier_judges_or_releases(at_photo_step, take):
    claim_all(at_photo_step.technician)
    take(AT_CLOSED_END)
    for name in ("technician", "engineer", "administrator"):
        one = at_photo_step.everybody()[name]
        assert judge(one).status_code == 403, name


def test_a_verifier_who_took_part_is_refused_by_name(at_photo_step, take, caller):
    people, administrator = at_photo_step.people, at_photo_step.administrator
    administrator.ok(
        administrator.http.put(
            f"/v1/persons/{people['verifier']}/roles", json={"roles": ["verifier", "technician"]}
        )
    )
    ivo = caller()
    ivo.sign_in("ivo.lark", device_token=at_photo_step.device_token)
    ivo.job = at_photo_step.job
    ivo.seq = at_photo_step.technician.seq
    ivo.say(STEP, "contact", {"contacts": ["9"], "state": "open"})
    at_photo_step.technician.seq = ivo.seq
    claim_all(at_photo_step.technician)
    take(AT_CLOSED_END)
    refused = judge(ivo)
    assert refused.status_code == 403
    assert "Ivo Lark took part" in refused.json()["detail"]


def judgement_entries(engineer: Caller) -> list[dict]:
    entries = engineer.ok(engineer.get(f"/v1/jobs/{engineer.job}/entries"))
    return [entry["body"] for entry in entries if entry["kind"] == "judgement_given"]


def test_a_judgement_after_a_claim_was_served_on_any_device_is_recorded_as_not_blind(
    at_photo_step, take, house, clock
):
    technician, verifier = at_photo_step.technician, at_photo_step.verifier
    claim_travel(technician)
    claim_all(technician)
    take(AT_CLOSED_END)
    session = verifier.ok(verifier.get("/v1/session"))
    slip = ServedRow(
        session["site"], session["person"], None, verifier.job, STEP, 1, "claim", 1, stamp(clock.now())
    )
    with house.ports.transactions.writing() as tx:
        tx.listings.note_served(slip)
    assert desk(verifier)["blind"] is False
    verifier.ok(judge(verifier))
    verifier.ok(agree(verifier))
    assert judgement_entries(at_photo_step.engineer)[-1]["blind"] is False
    verifier.prove()
    assert release(verifier).status_code == 409


def test_what_was_seen_of_an_earlier_attempt_is_said_beside_the_next_judgement(at_photo_step, take, caller):
    technician, verifier = at_photo_step.technician, at_photo_step.verifier
    claim_all(technician)
    take(AT_CLOSED_END)
    verifier.ok(judge(verifier))
    desk(verifier)
    path = f"/v1/jobs/{verifier.job}/steps/{STEP}/opinion"
    verifier.ok(verifier.post(path, {"opinion": "another_photo", "reason": "a wire hides a bar"}))
    claim_all(technician)
    take(AT_CLOSED_END, size=(66, 48))
    elsewhere = caller()
    elsewhere.sign_in("ivo.lark")
    elsewhere.job = verifier.job
    elsewhere.ok(judge(elsewhere))
    given = judgement_entries(at_photo_step.engineer)[-1]
    assert "claim of attempt 1" in given["served"]


def test_everything_an_overseer_looks_at_is_noted(at_photo_step, take, house):
    administrator = at_photo_step.administrator
    claim_all(at_photo_step.technician)
    take(AT_CLOSED_END)
    administrator.view()
    person = administrator.ok(administrator.get("/v1/session"))["person"]
    with house.ports.transactions.reading() as tx:
        rows = {(row.what, row.step) for row in tx.listings.served_to(administrator.job, person)}
    assert {("claim", STEP), ("reading", STEP), ("expected", STEP)} <= rows
