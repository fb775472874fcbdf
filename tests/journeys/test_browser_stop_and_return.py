"""Stop work from the page, a page left open over a sign-out, a browser that refuses microphone and camera."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.driving import Service
from tests.journeys.browser_driving import DESK, PHONE, PHOTOS, chromium, example_of, sign_in, watched
from tests.journeys.browser_people import Technician

pytestmark = [pytest.mark.browser, pytest.mark.timeout(180)]


@pytest.fixture
def house(tmp_path: Path):
    with Service(tmp_path / "house", "--example") as service:
        yield service


@pytest.fixture
def chrome():
    with chromium() as running:
        yield running


@pytest.fixture
def refusing():
    with chromium(granted=False) as running:
        yield running


def at_the_valve(chrome, example, size=PHONE):
    page, received = watched(chrome.new_context(**size))
    technician = Technician(page, example)
    technician.sign_in()
    technician.open_job()
    return technician, page, received


def job_seen_from(page, example):
    return page.evaluate(f"fetch('/v1/jobs/{example.job}').then(answer => answer.json())")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_stop_work_from_the_page(house, chrome, size):
    example = example_of(house)
    technician, page, received = at_the_valve(chrome, example, size)
    page.click("#stop")
    page.wait_for_selector("text=Work is stopped")
    words = page.inner_text(".stopped-band")
    assert "does not stop the motor" in words
    assert job_seen_from(page, example)["status"] == "stopped"
    assert not page.query_selector("#now button:has-text('Say it is so')"), (
        "a stopped job asks for no answers"
    )

    other, _ = watched(chrome.new_context(**DESK))
    sign_in(other, example.address, *example.people["verifier"], go=f"/desk/{example.job}/closed_end")
    assert "Work on this job is stopped" in other.inner_text("#now")
    assert not other.query_selector("form[data-resume]")

    technician.resume("wrong button")
    assert job_seen_from(page, example)["status"] == "open"
    assert received.faults == []


def test_stop_work_without_connection_goes_before_everything_that_waits(house, chrome):
    example = example_of(house)
    technician, page, _ = at_the_valve(chrome, example)
    page.context.set_offline(True)
    technician.press("Say it is so")
    page.click("#stop")
    page.wait_for_selector("text=2 waiting")
    page.context.set_offline(False)
    page.wait_for_selector("text=Work is stopped", timeout=40_000)
    page.wait_for_selector("text=Nothing waits", timeout=40_000)
    entries = page.evaluate(f"fetch('/v1/jobs/{example.job}/entries').then(answer => answer.json())")
    mine = [entry for entry in entries if entry["kind"] == "statement_made"][-2:]
    assert [entry["body"]["intent"] for entry in mine] == ["control", "travel"]
    assert mine[0]["device_seq"] == mine[1]["device_seq"] + 1


def test_a_page_left_open_over_a_sign_out_loses_nothing(house, chrome):
    example = example_of(house)
    technician, page, _ = at_the_valve(chrome, example)
    before = job_seen_from(page, example)["head"]["seq"]
    page.evaluate("fetch('/v1/session', {method: 'DELETE'})")
    tries = []
    page.on("request", lambda request: tries.append(request.url) if request.method == "PUT" else None)
    page.set_input_files("input[data-file]", PHOTOS / "job_005.jpg")
    page.wait_for_selector("#again[open]", timeout=40_000)
    page.wait_for_timeout(1500)
    assert len(tries) == 1  # what waits for a sign-in is not tried over and over
    page.click("#again [data-close]")
    page.wait_for_function("document.querySelector('#outbox-open').textContent.includes('1 waiting')")
    page.reload()
    technician.sign_in()
    technician.open_job()
    page.wait_for_selector("text=Nothing waits", timeout=40_000)
    page.wait_for_selector("figure img[alt*='Photo 1']", timeout=40_000)
    assert job_seen_from(page, example)["head"]["seq"] > before


def test_what_the_browser_refuses_is_said_in_words_and_buttons_still_work(house, refusing):
    example = example_of(house)
    technician, page, _ = at_the_valve(refusing, example)
    technician.talk(0.3)
    technician.let_go()
    page.wait_for_selector("#no-microphone:not([hidden])")
    assert "Every answer can also be given by button" in page.inner_text("#no-microphone")
    page.click("[data-camera]")
    page.wait_for_selector("#no-camera:not([hidden])")
    assert "from a file" in page.inner_text("#no-camera")
    technician.press("Say it is so")
    technician.confirm_all()
    technician.choose_file(PHOTOS / "job_005.jpg")
    page.wait_for_selector("figure img[alt*='Photo 1']", timeout=40_000)


@pytest.fixture
def by_name():
    """A browser for which a name that is no loopback leads here, so that plain HTTP is not a secure context."""
    with chromium(more=("--host-resolver-rules=MAP valve.example 127.0.0.1",)) as running:
        yield running


def test_without_https_the_page_says_so_and_buttons_and_files_still_work(house, by_name):
    plain = replace(example_of(house), address=house.address.replace("127.0.0.1", "valve.example"))
    technician, page, _ = at_the_valve(by_name, plain)
    assert page.evaluate("isSecureContext") is False
    assert "neither microphone nor camera" in page.inner_text("#insecure")
    technician.press("Say it is so")
    technician.confirm_all()
    technician.choose_file(PHOTOS / "job_005.jpg")
    page.wait_for_selector("figure img[alt*='Photo 1']", timeout=90_000)
    page.click("[data-camera]")
    page.wait_for_selector("#no-camera:not([hidden])")


def test_a_file_that_is_no_photo_is_refused_in_words_and_what_follows_still_goes(house, chrome, tmp_path):
    technician, page, _ = at_the_valve(chrome, example_of(house))
    (tmp_path / "no_photo.jpg").write_text("a shopping list")
    technician.choose_file(tmp_path / "no_photo.jpg")
    page.wait_for_selector("text=1 refused", timeout=90_000)
    page.click("#outbox-open")
    assert "refused: " in page.inner_text("#outbox-list")
    page.keyboard.press("Escape")
    technician.press("Say it is so")
    technician.confirm_all()
    assert job_seen_from(page, technician.example)["pending"] == {}
