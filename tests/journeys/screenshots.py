"""Pictures of every page and state, at phone and desk size, by day and night: `python -m tests.journeys.screenshots DIR`.

Plays the example job on the two pages in a real browser; nothing in the pictures is staged. Add `--fast` for day only.
"""

import argparse
import tempfile
from pathlib import Path
from typing import Any

from tests.driving import Service
from tests.journeys.browser_driving import (
    CLIPS,
    DESK,
    PHONE,
    PHOTOS,
    Example,
    as_camera,
    as_microphone,
    chromium,
    example_of,
    sign_in,
    watched,
)
from tests.journeys.browser_people import Technician, Verifier

SIZES = {"phone": (390, 844), "desk": (1440, 900)}


class Album:
    """Keeps pictures in a folder, numbered in the order in which they were taken."""

    def __init__(self, folder: Path, lights: tuple[str, ...]) -> None:
        self.folder, self.lights, self.number = folder, lights, 0
        folder.mkdir(parents=True, exist_ok=True)

    def take(self, page: Any, name: str, *sizes: str, whole: bool = True) -> None:
        """Take a page at each size, by each light; `whole` also takes all of it where it is longer than the screen."""
        self.number += 1
        before = page.viewport_size
        for size in sizes or ("phone",):
            width, height = SIZES[size]
            for light in self.lights:
                page.emulate_media(color_scheme="dark" if light == "night" else "light")
                page.set_viewport_size({"width": width, "height": height})
                page.wait_for_timeout(150)
                stem = f"{self.number:02}-{name}-{size}-{light}"
                page.screenshot(path=self.folder / f"{stem}.png")
                length = page.evaluate("document.documentElement.scrollHeight")
                if whole and length > height + 40:
                    page.set_viewport_size({"width": width, "height": min(length, 6000)})
                    page.wait_for_timeout(150)
                    page.screenshot(path=self.folder / f"{stem}-whole.png")
        page.emulate_media(color_scheme="light")
        page.set_viewport_size(before)


def play(example: Example, browser: Any, album: Album) -> None:
    """Play the example's checkpoint on the two pages, with what goes wrong on the way."""
    phone, desk = browser.new_context(**PHONE), browser.new_context(**DESK)
    page, _ = watched(phone)
    page.goto(example.address)
    album.take(page, "landing", "phone", "desk")
    page.goto(f"{example.address}/sign-in")
    album.take(page, "sign-in", "phone", "desk")
    page.goto(f"{example.address}/invitation#word")
    album.take(page, "invitation", "phone")
    other, _ = watched(desk)
    sign_in(other, example.address, *example.people["verifier"], go="/desk")
    album.take(other, "desk-waiting", "desk", "phone")
    technician = Technician(page, example)
    technician.sign_in()
    page.goto(f"{example.address}/jobs")
    album.take(page, "jobs", "phone", "desk")
    technician.open_job()
    album.take(page, "checkpoint-travel", "phone", "desk")
    page.click("[data-menu]")
    album.take(page, "menu", "phone", whole=False)
    page.click("[data-menu]")
    verifier = Verifier(other, example)
    verifier.open("closed_end")
    album.take(other, "desk-no-photo", "desk", "phone")

    technician.talk()
    album.take(page, "talking", "phone", whole=False)
    technician.let_go()
    technician.wait_for_read_back()
    album.take(page, "read-back-of-speech", "phone", "desk")
    technician.confirm_all()
    technician.answer_all()
    album.take(page, "contacts", "phone", "desk")
    technician.pick({"9": "closed", "3B": "open", "17": "closed", "5A": "closed"})
    album.take(page, "contacts-picked", "phone")
    technician.say_contacts()
    album.take(page, "read-back-of-contacts", "phone")
    technician.confirm_all()
    technician.all_contacts({"12": "closed", "20": "closed", "6B": "open", "11": "open"})
    technician.all_contacts({"23": "open", "14": "open", "2D": "closed", "16": "closed"})
    album.take(page, "now-the-photo", "phone")
    technician.open_camera()
    album.take(page, "camera", "phone", whole=False)
    technician.shoot()
    technician.wait_until_told()
    album.take(page, "disputed", "phone", "desk")
    verifier.wait_for_photo()
    album.take(other, "desk-blind", "desk", "phone")
    technician.say_again({"9": "open", "3B": "open", "17": "closed", "5A": "closed"})
    technician.confirm_all()
    technician.wait_until_held()
    album.take(page, "waits-for-second-person", "phone", "desk")

    verifier.wait_for_photo()
    other.click("#chart-details summary")
    verifier.fill({"R1": ("tripped", "tripped"), "R2": ("at_rest", "at_rest"), "R3": ("tripped", "tripped")})
    album.take(other, "desk-filled", "desk", "phone")
    verifier.store()
    album.take(other, "desk-side-by-side", "desk", "phone")

    page.click("#stop")
    page.wait_for_selector("text=Work is stopped")
    album.take(page, "stopped", "phone", "desk")
    technician.resume("pressed to try it")
    verifier.conclude("agree")
    album.take(other, "desk-release", "desk", "phone")
    verifier.release(example.people["verifier"][1])
    album.take(other, "desk-released", "desk")

    page.context.set_offline(True)  # noqa: FBT003 - playwright's own signature
    technician.wait_for("Say it is so")
    technician.press("Say it is so")
    page.wait_for_selector("#offline:not([hidden])", timeout=20000)
    album.take(page, "offline", "phone")
    page.click("#outbox-open")
    album.take(page, "outbox", "phone", whole=False)
    page.keyboard.press("Escape")
    page.context.set_offline(False)  # noqa: FBT003
    technician.wait_for_read_back()
    other_tab = phone.new_page()
    other_tab.goto(f"{example.address}/jobs")
    other_tab.click("[data-menu]")
    other_tab.click("[data-sign-out]")
    other_tab.wait_for_url("**/sign-in")
    page.wait_for_selector("#again[open]", timeout=20000)
    album.take(page, "signed-out", "phone", "desk", whole=False)
    technician.sign_in_again()
    technician.confirm_all()
    page.wait_for_selector("text=Every step has passed")
    album.take(page, "all-passed", "phone", "desk")


def main() -> None:
    """Take all pictures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--fast", action="store_true", help="day only")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as kept:
        folder = Path(kept)
        microphone = as_microphone(CLIPS / "rw-204" / "at_full_closed.ogg", folder)
        camera = as_camera(PHOTOS / "job_005.jpg", folder)
        album = Album(options.folder, ("day",) if options.fast else ("day", "night"))
        with Service(folder / "house", "--example") as service, chromium(microphone, camera) as browser:
            play(example_of(service), browser, album)
        print(f"{album.number} states in {options.folder}")


if __name__ == "__main__":
    main()
