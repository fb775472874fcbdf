"""What a gloved thumb, a keyboard, large text and a screen reader need, on both pages in real Chromium."""

from pathlib import Path

import pytest

from tests.driving import Service
from tests.journeys.browser_driving import (
    CLIPS,
    DESK,
    PHONE,
    PHOTOS,
    as_microphone,
    chromium,
    example_of,
    sign_in,
    watched,
)
from tests.journeys.browser_people import Technician, Verifier, until

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]

UNNAMED = """[...document.querySelectorAll('input, textarea, select, button, a[href], summary')]
  .filter((one) => one.offsetParent !== null || one.closest('dialog[open]'))
  .filter((one) => !(one.labels?.length || one.ariaLabel || one.textContent.trim()
    || one.getAttribute('aria-labelledby') || one.querySelector('img')?.alt))
  .map((one) => one.outerHTML)"""
SMALL = """[...document.querySelectorAll('main button, a.button, .talk .button, .stop-band, .pick label')]
  .filter((one) => one.offsetParent !== null || getComputedStyle(one).position === 'fixed')
  .filter((one) => !one.classList.contains('plain') && one.getBoundingClientRect().height < 72)
  .map((one) => one.outerHTML)"""
TINY = """[...document.querySelectorAll('body *')]
  .filter((one) => one.offsetParent !== null && [...one.childNodes].some((node) => node.nodeType === 3
    && node.data.trim()))
  .filter((one) => !one.closest('svg') && parseFloat(getComputedStyle(one).fontSize) < 16)
  .map((one) => one.outerHTML.slice(0, 120))"""
TOO_WIDE = "document.documentElement.scrollWidth - innerWidth"


@pytest.fixture(scope="module")
def example(tmp_path_factory):
    with Service(tmp_path_factory.mktemp("access") / "house", "--example") as service:
        yield example_of(service)


@pytest.fixture(scope="module")
def chrome(tmp_path_factory):
    folder: Path = tmp_path_factory.mktemp("sound")
    with chromium(as_microphone(CLIPS / "rw-204" / "at_full_closed.ogg", folder)) as running:
        yield running


def test_the_technician_page_serves_thumb_keyboard_and_large_text(example, chrome):
    page, _ = watched(chrome.new_context(**PHONE))
    technician = Technician(page, example)
    technician.sign_in()
    technician.open_job()
    assert page.evaluate(UNNAMED) == []
    assert page.evaluate(SMALL) == []
    assert page.evaluate(TINY) == []
    assert page.evaluate(TOO_WIDE) <= 0
    reached = {reached_by_tab(page) for _ in range(30)}
    assert {"stop", "hold", "hands", "outbox-open"} <= reached
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    assert page.evaluate(TOO_WIDE) <= 0
    assert page.locator("#stop").is_visible()


def reached_by_tab(page):
    page.keyboard.press("Tab")
    return page.evaluate("document.activeElement.id || document.activeElement.textContent.trim()")


def test_hands_free_cuts_what_is_said_at_the_pause_and_sends_it(example, chrome):
    page, _ = watched(chrome.new_context(**PHONE))
    technician = Technician(page, example)
    technician.sign_in()
    technician.open_job()
    page.click("#hands")
    page.wait_for_selector("text=Listening, hands free")
    technician.wait_for_read_back()
    assert "at full closed" in page.inner_text(".back")
    page.click("#hands")
    until(page, "document.getElementById('hands').getAttribute('aria-pressed') === 'false'")
    technician.press("Not what I said")
    page.wait_for_selector(".back", state="detached", timeout=40_000)


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_the_desk_serves_keyboard_and_large_text_at_both_sizes(example, chrome, size):
    at_valve, _ = watched(chrome.new_context(**PHONE))
    technician = Technician(at_valve, example)
    technician.sign_in()
    technician.open_job()
    technician.choose_file(PHOTOS / "job_005.jpg")
    page, _ = watched(chrome.new_context(**size))
    sign_in(page, example.address, *example.people["verifier"], go="/desk")
    verifier = Verifier(page, example)
    verifier.open("closed_end")
    verifier.wait_for_photo()
    assert page.evaluate(UNNAMED) == []
    assert page.evaluate(TOO_WIDE) <= 0
    page.focus("#must-R1-at_rest")
    page.keyboard.press("ArrowRight")
    assert page.is_checked("#must-R1-tripped")
    assert "Must be: 9, 3B open; 17, 5A closed." in page.inner_text("fieldset[data-rotor=R1] [data-so]")
    page.focus("#pane")
    page.keyboard.press("+")
    assert page.inner_text("#factor") == "1.5 times"
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    assert page.evaluate(TOO_WIDE) <= 0
