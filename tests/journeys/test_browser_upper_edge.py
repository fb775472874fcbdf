"""Tapping the switch's upper edge in a photo, where the photo before left open which way up it was taken."""

from pathlib import Path

import pytest

from tests.driving import Service
from tests.journeys.browser_driving import PHONE, PHOTOS, chromium, example_of, watched
from tests.journeys.browser_people import Technician

pytestmark = [pytest.mark.browser, pytest.mark.timeout(180)]

ASKED = """() => { const asked = document.createElement('p');
  asked.id = 'edge-asked'; asked.dataset.upperEdge = 'the one along R1 and R2';
  document.querySelector('#now').append(asked); }"""
"""What the page holds after such a reading; the pages' own tests hold the service to it."""


def test_the_tap_goes_with_the_photo_as_shares_of_the_picture(tmp_path: Path):
    with Service(tmp_path / "house", "--example") as service, chromium() as chrome:
        example = example_of(service)
        page, received = watched(chrome.new_context(**PHONE))
        technician = Technician(page, example)
        technician.sign_in()
        technician.open_job()
        page.evaluate(ASKED)
        page.set_input_files("input[data-file]", PHOTOS / "job_005.jpg")
        page.wait_for_selector("#edge[open]")
        assert "the one along R1 and R2" in page.inner_text("#edge-words")
        assert page.is_disabled("#edge-send")
        page.wait_for_function("document.querySelector('#edge-photo').naturalWidth > 0")
        box = page.locator("#edge-photo").bounding_box()
        page.touchscreen.tap(box["x"] + 0.25 * box["width"], box["y"] + 0.1 * box["height"])
        page.wait_for_selector("#edge-mark:not([hidden])")
        page.click("#edge-send")
        page.wait_for_selector("figure img[alt*='Photo 1']", timeout=40_000)
        entries = page.evaluate(f"fetch('/v1/jobs/{example.job}/entries').then(answer => answer.json())")
        tapped = next(one["body"]["upper_edge"] for one in entries if one["kind"] == "photo_taken_in")
        assert tapped == pytest.approx([0.25, 0.1], abs=0.02)

        page.evaluate(ASKED)
        page.set_input_files("input[data-file]", PHOTOS / "job_006.jpg")
        page.wait_for_selector("#edge[open]")
        page.click("#edge-skip")
        page.wait_for_selector("figure img[alt*='Photo 2']", timeout=40_000)
        entries = page.evaluate(f"fetch('/v1/jobs/{example.job}/entries').then(answer => answer.json())")
        assert "upper_edge" not in [one["body"] for one in entries if one["kind"] == "photo_taken_in"][-1]
        assert received.faults == []
