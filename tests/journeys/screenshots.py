"""Pictures of every page and state: `python -m tests.journeys.screenshots DIR`.

At phone and desk size, by day and night (`--fast`: day only). Plays two jobs on the pages in a real browser;
nothing in the pictures is staged.
"""

import argparse
import tempfile
from pathlib import Path
from typing import Any

from tests.driving import PASSWORD, Service, add_person, enrol, first_administrator, open_sample_job
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
LONGEST_PX = 6000
LAST_STEP = "closed_set"


class Album:
    """Keeps pictures in a folder, numbered in the order in which they were taken."""

    def __init__(self, folder: Path, lights: tuple[str, ...]) -> None:
        self.folder, self.lights, self.number = folder, lights, 0
        folder.mkdir(parents=True, exist_ok=True)

    def take(self, page: Any, name: str, *sizes: str, whole: bool = True) -> None:
        """Take a page at each size, by each light; `whole` adds all of it where the screen is shorter."""
        self.number += 1
        before = page.viewport_size
        for size in sizes or ("phone",):
            for light in self.lights:
                page.emulate_media(color_scheme="dark" if light == "night" else "light")
                self._take(page, f"{self.number:02}-{name}-{size}-{light}", SIZES[size], whole=whole)
        page.emulate_media(color_scheme="light")
        page.set_viewport_size(before)

    def _take(self, page: Any, stem: str, size: tuple[int, int], *, whole: bool) -> None:
        width, height = size
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(150)
        page.screenshot(path=self.folder / f"{stem}.png")
        length = page.evaluate("document.documentElement.scrollHeight")
        if whole and length > height + 40:
            page.set_viewport_size({"width": width, "height": min(length, LONGEST_PX)})
            page.wait_for_timeout(150)
            page.screenshot(path=self.folder / f"{stem}-whole.png")


class OneCheckpoint:
    """The example's checkpoint, played on the two pages with what goes wrong on the way."""

    def __init__(self, example: Example, browser: Any, album: Album) -> None:
        self.example, self.album = example, album
        self.phone = browser.new_context(**PHONE)
        self.page, _ = watched(self.phone)
        self.other, _ = watched(browser.new_context(**DESK))
        self.technician = Technician(self.page, example)
        self.verifier = Verifier(self.other, example)

    def play(self) -> None:
        """Play it from signing in to the package."""
        self.doors()
        self.lists()
        self.claims()
        self.photo()
        self.judgement()
        self.stop_and_release()
        self.without_connection()
        self.signed_out()

    def doors(self) -> None:
        """Take what stands before the sign-in."""
        for path, name in (("/", "landing"), ("/sign-in", "sign-in"), ("/invitation#word", "invitation")):
            self.page.goto(self.example.address + path)
            self.album.take(self.page, name, "phone", "desk")

    def lists(self) -> None:
        """Take what waits, for both."""
        sign_in(self.other, self.example.address, *self.example.people["verifier"], go="/desk")
        self.album.take(self.other, "desk-waiting", "desk", "phone")
        self.technician.sign_in()
        self.page.goto(f"{self.example.address}/jobs")
        self.album.take(self.page, "jobs", "phone", "desk")
        self.page.goto(f"{self.example.address}/jobs/unknown")
        self.album.take(self.page, "problem", "phone", "desk")
        self.technician.open_job()
        self.album.take(self.page, "checkpoint-travel", "phone", "desk")
        self.page.click("[data-menu]")
        self.album.take(self.page, "menu", whole=False)
        self.page.click("[data-menu]")
        self.verifier.open("closed_end")
        self.album.take(self.other, "desk-no-photo", "desk", "phone")

    def claims(self) -> None:
        """Say travel by voice, the rest by button, one contact wrong."""
        self.technician.talk()
        self.album.take(self.page, "talking", whole=False)
        self.technician.let_go()
        self.technician.wait_for_read_back()
        self.album.take(self.page, "read-back-of-speech", "phone", "desk")
        self.technician.confirm_all()
        self.technician.answer_all()
        self.album.take(self.page, "contacts", "phone", "desk")
        self.technician.pick({"9": "closed", "3B": "open", "17": "closed", "5A": "closed"})
        self.album.take(self.page, "contacts-picked")
        self.technician.say_contacts()
        self.album.take(self.page, "read-back-of-contacts")
        self.technician.confirm_all()
        self.technician.all_contacts({"12": "closed", "20": "closed", "6B": "open", "11": "open"})
        self.technician.all_contacts({"23": "open", "14": "open", "2D": "closed", "16": "closed"})
        self.album.take(self.page, "now-the-photo")

    def photo(self) -> None:
        """Take the photo, see the dispute, say the contact again."""
        self.technician.open_camera()
        self.album.take(self.page, "camera", whole=False)
        self.technician.shoot()
        self.technician.wait_until_told()
        self.album.take(self.page, "disputed", "phone", "desk")
        self.verifier.wait_for_photo()
        self.album.take(self.other, "desk-blind", "desk", "phone")
        self.other.click("[data-zoom=in]")
        self.other.click("[data-zoom=in]")
        self.album.take(self.other, "desk-zoomed", "desk", "phone", whole=False)
        self.technician.say_again({"9": "open", "3B": "open", "17": "closed", "5A": "closed"})
        self.technician.confirm_all()
        self.technician.wait_until_held()
        self.album.take(self.page, "waits-for-second-person", "phone", "desk")

    def judgement(self) -> None:
        """Judge blind and see everything side by side."""
        self.verifier.wait_for_photo()
        self.other.click("#chart-details summary")
        self.verifier.fill(
            {"R1": ("tripped", "tripped"), "R2": ("at_rest", "at_rest"), "R3": ("tripped", "tripped")}
        )
        self.album.take(self.other, "desk-filled", "desk", "phone")
        self.verifier.store()
        self.album.take(self.other, "desk-side-by-side", "desk", "phone")

    def stop_and_release(self) -> None:
        """Stop work, resume it, agree, release."""
        self.page.click("#stop")
        self.page.wait_for_selector("text=Work is stopped")
        self.album.take(self.page, "stopped", "phone", "desk")
        self.verifier.conclude("agree")
        self.album.take(self.other, "desk-stopped", "desk", "phone")
        self.technician.resume("pressed to try it")
        self.other.wait_for_selector("text=Work on this job is stopped", state="detached")
        self.album.take(self.other, "desk-release", "desk", "phone")
        self.verifier.release(self.example.people["verifier"][1])
        self.album.take(self.other, "desk-released", "desk")

    def without_connection(self) -> None:
        """Go on without a connection, and let what waits go when it is back."""
        self.page.context.set_offline(True)
        self.technician.wait_for("Say it is so")
        self.technician.press("Say it is so")
        self.page.wait_for_selector("#offline:not([hidden])", timeout=20_000)
        self.album.take(self.page, "offline")
        self.page.click("#outbox-open")
        self.album.take(self.page, "outbox", whole=False)
        self.page.keyboard.press("Escape")
        self.page.context.set_offline(False)
        self.technician.wait_for_read_back()

    def signed_out(self) -> None:
        """Sign out in another tab, sign in again here, finish."""
        tab = self.phone.new_page()
        tab.goto(f"{self.example.address}/jobs")
        tab.click("[data-menu]")
        tab.click("[data-sign-out]")
        tab.wait_for_url("**/sign-in")
        self.page.wait_for_selector("#again[open]", timeout=20_000)
        self.album.take(self.page, "signed-out", "phone", "desk", whole=False)
        self.technician.sign_in_again()
        self.technician.confirm_all()
        self.page.wait_for_selector("text=Every step has passed")
        self.album.take(self.page, "all-passed", "phone", "desk")


class FromTheStart:
    """The whole procedure from its first step, as far as each kind of answer has been shown once."""

    def __init__(self, example: Example, browser: Any, album: Album) -> None:
        self.album, self.example = album, example
        self.page, _ = watched(browser.new_context(**PHONE))
        self.technician = Technician(self.page, example)

    def play(self) -> None:
        """Answer each thing asked, taking the first of each kind."""
        self.technician.sign_in()
        self.technician.open_job()
        shown: set[str] = set()
        for _ in range(160):
            kind = self.technician.kind_asked()
            if kind not in shown:
                shown.add(kind)
                self.album.take(self.page, f"asks-{kind}", "phone", "desk")
            if self.technician.step == LAST_STEP:
                break
            self.technician.answer_plausibly(kind)
        self.album.take(self.page, "two-ends-side-by-side", "phone", "desk")


def started_from_new(service: Service) -> Example:
    """Return a house with an administrator, two people, a phone and one job of the whole procedure."""
    administrator = first_administrator(service)
    technician = add_person(administrator, "Oona Prell", "technician")
    verifier = add_person(administrator, "Ivo Lark", "verifier")
    people = {technician: ["technician"], verifier: ["verifier"]}
    job = open_sample_job(administrator, people, "default")
    named = {"technician": ("oona.prell", PASSWORD), "verifier": ("ivo.lark", PASSWORD)}
    example = Example(service.address, job, named, enrol(administrator))
    administrator.close()
    return example


def main() -> None:
    """Take all pictures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--fast", action="store_true", help="day only")
    options = parser.parse_args()
    album = Album(options.folder, ("day",) if options.fast else ("day", "night"))
    with tempfile.TemporaryDirectory() as kept:
        folder = Path(kept)
        microphone = as_microphone(CLIPS / "rw-204" / "at_full_closed.ogg", folder)
        camera = as_camera(PHOTOS / "job_005.jpg", folder)
        with chromium(microphone, camera) as browser:
            with Service(folder / "new") as service:
                FromTheStart(started_from_new(service), browser, album).play()
            with Service(folder / "example", "--example") as service:
                OneCheckpoint(example_of(service), browser, album).play()
    print(f"{album.number} states in {options.folder}")


if __name__ == "__main__":
    main()
