"""One checkpoint by two people on two pages in real Chromium: phone at the valve, wide screen at the desk."""

import json
from pathlib import Path

import pytest

from tests.driving import Service
from tests.journeys.browser_driving import (
    CLIPS,
    DESK,
    PHONE,
    PHOTOS,
    as_camera,
    as_microphone,
    chromium,
    example_of,
    sign_in,
    watched,
)
from tests.journeys.browser_people import Technician, Verifier

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]

AS_SET = (
    {"9": "open", "3B": "open", "17": "closed", "5A": "closed"},
    {"12": "closed", "20": "closed", "6B": "open", "11": "open"},
    {"23": "open", "14": "open", "2D": "closed", "16": "closed"},
)
ROTORS = {"R1": ("tripped", "tripped"), "R2": ("at_rest", "at_rest"), "R3": ("tripped", "tripped")}
PRIMING_WORDS = ("disputed", "agreed", "off-chart", "claimed", "confidence")


@pytest.fixture
def house(tmp_path: Path):
    with Service(tmp_path / "house", "--example") as service:
        yield service


@pytest.fixture
def chrome(tmp_path: Path):
    microphone = as_microphone(CLIPS / "rw-204" / "at_full_closed.ogg", tmp_path)
    with chromium(microphone, as_camera(PHOTOS / "job_005.jpg", tmp_path)) as running:
        yield running


def test_one_checkpoint_on_two_pages(house, chrome):
    example = example_of(house)
    at_valve, told_valve = watched(chrome.new_context(**PHONE))
    technician = Technician(at_valve, example)
    technician.sign_in()
    technician.open_job()

    technician.talk()
    technician.let_go()
    technician.wait_for_read_back()
    assert "at full closed" in at_valve.inner_text(".back")
    assert "at full closed" in at_valve.inner_text(".heard")
    technician.confirm_all()
    technician.answer_all()
    for rotor in AS_SET:
        technician.all_contacts(rotor)
    assert not at_valve.query_selector(".verdicts"), "expected states are shown before a photo is stored"
    technician.open_camera()
    technician.shoot()
    technician.wait_until_told()
    assert at_valve.locator(".verdict.agreed").count() == 12
    technician.wait_until_held()

    at_desk, told_desk = watched(chrome.new_context(**DESK))
    verifier = Verifier(at_desk, example)
    name, password = example.people["verifier"]
    sign_in(at_desk, example.address, name, password, go="/desk")
    at_desk.click(".desk-list a")
    verifier.wait_for_photo()
    verifier.fill(ROTORS)
    verifier.store()
    assert "same at every judged contact" in at_desk.inner_text("#now")
    assert at_desk.locator("img[alt*='measured']").count() == 1
    verifier.conclude("agree")
    verifier.release(password)

    technician.wait_for("Say it is so")
    technician.press("Say it is so")
    technician.confirm_all()
    at_valve.wait_for_selector("text=Every step has passed")
    assert told_valve.faults == []
    assert told_desk.faults == []


def test_verifier_cannot_see_the_claim_first(house, chrome):
    example = example_of(house)
    at_valve, _ = watched(chrome.new_context(**PHONE))
    technician = Technician(at_valve, example)
    technician.sign_in()
    technician.open_job()
    at_desk, received = watched(chrome.new_context(**DESK), whole=True)
    verifier = Verifier(at_desk, example)
    sign_in(at_desk, example.address, *example.people["verifier"], go="/desk")
    at_desk.goto(f"{example.address}/jobs")
    verifier.open("closed_end")

    technician.answer_all()
    for rotor in AS_SET:
        technician.all_contacts(rotor)
    technician.choose_file(PHOTOS / "job_005.jpg")
    technician.wait_until_told()
    verifier.wait_for_photo()
    # What the page itself may ask for, and what a curious person at its console may ask for besides.
    at_desk.goto(f"{example.address}/jobs/{example.job}")
    for path in (
        f"jobs/{example.job}",
        f"jobs/{example.job}/entries",
        f"desk/{example.job}/closed_end",
        "desk",
    ):
        at_desk.goto(f"{example.address}/v1/{path}")
    verifier.open("closed_end")
    verifier.wait_for_photo()

    before = list(received.texts)
    assert any("#photo" in text or 'id="photo"' in text for _, text in before), "no photo was ever served"
    for address, text in before:
        assert told_of_contacts(address, text) == [], address
    claims = [clip for clip in media_named(at_desk, example) if clip["shows"] != "photo"]
    assert claims == []

    verifier.fill(ROTORS)
    verifier.store()
    after = [text for address, text in received.texts[len(before) :] if address.endswith("/now")]
    assert any(told_of_contacts("", text) for text in after), (
        "the test would not see a claim if one were shown"
    )
    shown = at_desk.evaluate(f"fetch('/v1/desk/{example.job}/closed_end').then(answer => answer.json())")
    assert shown["attempts"][-1]["judgements"][0]["blind"] is True


def told_of_contacts(address: str, text: str) -> list[str]:
    """Return what a response tells of what was said, read or expected of any contact."""
    if address and "/v1/" in address:
        return in_json(json.loads(text))
    found = [word for word in PRIMING_WORDS if f">{word}<" in text or f" {word}:" in text]
    return found + [
        f"state of {mark}" for mark in ('class="state closed"', 'class="state open"') if mark in text
    ]


def in_json(value: object, where: str = "") -> list[str]:
    """Return where a JSON answer tells of claims, readings, findings, expected or judged states."""
    if isinstance(value, list):
        return [path for one in value for path in in_json(one, where)]
    if not isinstance(value, dict):
        return []
    telling = {
        "claims",
        "denied",
        "findings",
        "judgements",
        "expected",
        "contacts",
        "annotated",
        "hearing",
        "reading",
    }
    found = [
        f"{where}/{key}" for key, inner in value.items() if key in telling and inner not in (None, [], {})
    ]
    bodies = [value["body"]] if value.get("kind") in {"statement_made", "clip_heard", "photo_read"} else []
    contacts = [f"{where}/body" for body in bodies if body and "contact" in json.dumps(body)]
    return (
        found + contacts + [path for key, inner in value.items() for path in in_json(inner, f"{where}/{key}")]
    )


def media_named(page, example) -> list[dict[str, str]]:
    """Return the bytes that the journal names to this person and the service hands out."""
    script = f"""fetch('/v1/jobs/{example.job}/entries').then(answer => answer.json())"""
    entries = page.evaluate(script)
    named = []
    for entry in entries:
        body = entry["body"] or {}
        for key, shows in (
            ("media", "clip" if entry["kind"] == "clip_taken_in" else "photo"),
            ("annotated", "annotated"),
        ):
            if not body.get(key):
                continue
            status = page.evaluate(f"fetch('/v1/media/{body[key]}').then(answer => answer.status)")
            if status == 200:
                named.append({"media": body[key], "shows": shows})
    return named
