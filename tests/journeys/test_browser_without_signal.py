"""A page that was closed opens again while the service cannot be reached, and what is made then is sent afterwards."""

from pathlib import Path
from urllib.parse import urlsplit

import pytest

from tests.driving import Service
from tests.journeys.browser_driving import PHONE, PHOTOS, chromium, example_of, sign_in, watched
from tests.journeys.browser_people import Technician, until

pytestmark = [pytest.mark.browser, pytest.mark.timeout(180)]

KEPT = """async (job) => {
  for (const name of await caches.keys())
    if (await (await caches.open(name)).match(`/jobs/${job}/now`)) return true;
  return false;
}"""
NAMES = "caches.keys().then((names) => names.length)"


@pytest.fixture
def chrome():
    with chromium() as running:
        yield running


def open_and_keep(chrome, service):
    example = example_of(service)
    page, _ = watched(chrome.new_context(**PHONE))
    technician = Technician(page, example)
    technician.sign_in()
    technician.open_job()
    until(page, f"({KEPT})('{example.job}')")
    return example, technician, page


def test_a_closed_page_opens_without_signal_and_what_is_made_goes_afterwards(chrome, tmp_path: Path):
    with Service(tmp_path / "house", "--example") as service:
        example, _, page = open_and_keep(chrome, service)
        port = str(urlsplit(example.address).port)
        context = page.context
        shown = page.inner_text("#now .place")
        page.close()
        service.kill()

    page, received = watched(context)
    page.goto(f"{example.address}/jobs/{example.job}")
    page.wait_for_selector("#kept:not([hidden])", timeout=40_000)
    assert page.inner_text("#now .place") == shown
    assert "if that is not you, put the phone down" in page.inner_text("#kept")
    assert "There is no remote release" in page.inner_text("#offline")
    page.click("#now button:has-text('Say it is so')")
    page.set_input_files("input[data-file]", PHOTOS / "job_005.jpg")
    page.wait_for_selector("text=2 waiting")
    page.close()

    page, received = watched(context)
    page.goto(f"{example.address}/")
    page.wait_for_selector("#kept a")
    page.click("#kept a")
    page.wait_for_selector("text=2 waiting", timeout=40_000)
    with Service(tmp_path / "house", "--port", port) as again:
        assert again.address == example.address
        page.wait_for_selector("text=Nothing waits", timeout=60_000)
        page.wait_for_selector("figure img[alt*='Photo 1']", timeout=60_000)
        assert page.locator("#kept").is_hidden()
        assert page.locator("#offline").is_hidden()
    assert [fault for fault in received.faults if "ERR_" not in fault] == []


def test_what_is_kept_goes_with_the_sign_out_and_with_the_next_sign_in(chrome, tmp_path: Path):
    with Service(tmp_path / "house", "--example") as service:
        example, _, page = open_and_keep(chrome, service)
        page.click("[data-menu]")
        page.click("[data-sign-out]")
        page.wait_for_url("**/sign-in")
        assert page.evaluate(NAMES) == 0

        technician = Technician(page, example)
        technician.sign_in()
        technician.open_job()
        until(page, f"({KEPT})('{example.job}')")
        page.evaluate("fetch('/v1/session', {method: 'DELETE'})")
        sign_in(page, example.address, *example.people["verifier"], go="/desk")
        assert page.evaluate(NAMES) == 0
        page.goto(f"{example.address}/jobs/{example.job}")
        until(page, f"({KEPT})('{example.job}')")
        page.goto(f"{example.address}/desk/{example.job}/closed_end")
        page.wait_for_timeout(500)
        service.kill()
    page.goto(f"{example.address}/desk/{example.job}/closed_end")
    page.wait_for_selector("text=No connection to the service")
    assert "Said, seen" not in page.content(), "a page of the desk is never shown from a copy"
