"""What the two people do on the pages, by what they see: words on buttons, labels of fields."""

import json
import re
import time
from collections.abc import Mapping
from typing import Any

from service.definitions.chart import load_chart
from service.definitions.layout import load_layout
from service.domain.chart import ContactChart
from tests.builders import SAMPLES
from tests.journeys.browser_driving import PHOTOS, Example, sign_in

SLOW_MS = 90_000
PHOTO_OF_STEP = {
    "prepare_valve": "plate_rw204.jpg",
    "as_found": "job_000.jpg",
    "both_mid": "job_001.jpg",
    "closed_tripped": "job_005.jpg",
    "closed_still": "job_006.jpg",
    "closed_reset": "job_010.jpg",
    "open_tripped": "job_008.jpg",
    "open_still": "job_009.jpg",
    "open_reset": "job_011.jpg",
    "as_left": "job_012.jpg",
    "close_up": "job_013.jpg",
}
LAMPS = {"stroke_closing": 1, "stroke_opening": 3}
"""Which answer on lamps is given after each stroke: as the chart wants it when closing, both dark when opening."""
KINDS = {
    "stroke": "section[aria-label='Time marks']:not(:has(.marks))"
    ":not([aria-label='The answer to give'] ~ section) [data-moment]",
    "contacts": ".question > form[data-contacts-form]",
    "turns": "#answer-turns",
    "number": "#answer-number",
    "text": "#answer-text",
    "date": "form[data-fill] #answer-until",
    "say": ".question button:has-text('Say it is so')",
    "choice": "section[aria-label='The answer to give'] .pair button[data-say]",
    "release": "[data-release]",
    "photo": ".question .main[data-camera]",
}


def sample_chart() -> ContactChart:
    """Return the chart of the sample valve."""
    folder = SAMPLES / "jobs" / "rw-204"
    return load_chart(
        (folder / "chart.yaml").read_bytes(), load_layout((folder / "layout.json").read_bytes())
    )


def truth_of(photo: str) -> dict[str, str]:
    """Return how each contact of the sample chart truly lay when a sample photo was taken."""
    chart = sample_chart()
    lines = (json.loads(line) for line in (SAMPLES / "MANIFEST.jsonl").read_text().splitlines())
    bars = next(line["truth"]["bars"] for line in lines if line["file"] == f"photos/{photo}")
    places = {
        place: state
        for rotor in bars.values()
        for bar in rotor.values()
        for place, state in bar["answer"].items()
    }
    return {contact.label: places[contact.place] for contact in chart.contacts}


def rotors_of(photo: str) -> dict[str, str]:
    """Return how each rotor of the sample chart truly lay when a sample photo was taken."""
    truth, chart = truth_of(photo), sample_chart()
    tripped = {one.rotor: (truth[one.label] == "open") == (one.action == "breaks") for one in chart.contacts}
    return {rotor: "tripped" if so else "at_rest" for rotor, so in tripped.items()}


def until(page: Any, expression: str) -> None:
    """Wait until an expression holds, asked from outside, since the page lets no text become a script."""
    ends = time.monotonic() + SLOW_MS / 1000
    while not page.evaluate(expression):
        assert time.monotonic() < ends, f"never came: {expression}"
        page.wait_for_timeout(50)


def choose(page: Any, field: str) -> None:
    """Bring a choice to the middle of the screen, clear of the bands at its edge, and press it."""
    page.locator(field).evaluate("field => field.scrollIntoView({block: 'center'})")
    page.check(field, force=True)


class Technician:
    """The person at the valve, on the phone's page."""

    def __init__(self, page: Any, example: Example) -> None:
        self.page, self.example = page, example

    def sign_in(self) -> None:
        """Sign in on the example's phone."""
        name, password = self.example.people["technician"]
        sign_in(self.page, self.example.address, name, password, device=self.example.phone, go="/jobs")

    def open_job(self) -> None:
        """Open the job from the list."""
        self.page.goto(f"{self.example.address}/jobs")
        self.page.click(".desk-list a")
        self.page.wait_for_selector("body[data-ready]")

    def wait_for(self, words: str) -> None:
        """Wait until a button of the step says these words."""
        self.page.wait_for_selector(f"#now button:has-text('{words}'):not([disabled])", timeout=SLOW_MS)

    def press(self, words: str) -> None:
        """Press the first button that says these words."""
        self.page.click(f"#now button:has-text('{words}'):not([disabled])")

    def talk(self, seconds: float = 2.6) -> None:
        """Press and hold the talk button."""
        box = self.page.locator("#hold").bounding_box()
        self.page.mouse.move(box["x"] + 40, box["y"] + 40)
        self.page.mouse.down()
        self.page.wait_for_timeout(seconds * 1000)

    def let_go(self) -> None:
        """Let the talk button go."""
        self.page.mouse.up()

    def wait_for_read_back(self) -> None:
        """Wait until something is given back."""
        self.wait_for("Yes, that is right")

    def confirm_all(self) -> None:
        """Confirm every read-back until none is left."""
        self.wait_for_read_back()
        quiet = 0
        while quiet < 8:
            button = self.page.locator(".back .main:not([disabled])")
            if button.count():
                button.click(timeout=5000)
            busy = self.page.evaluate(
                "document.querySelector('.back') || document.body.dataset.waiting !== '0'"
            )
            quiet = 0 if busy else quiet + 1
            self.page.wait_for_timeout(100)

    def answer_all(self) -> None:
        """Say that each thing asked for is so, until contacts are asked for."""
        while not self.page.query_selector("form[data-contacts-form]"):
            self.press("Say it is so")
            self.confirm_all()
            self.page.wait_for_selector("#now .question")

    def kind_asked(self) -> str:
        """Wait until the page asks something, and return the kind of answer that it wants."""
        ends = time.monotonic() + SLOW_MS / 1000
        while True:
            asked = [kind for kind, where in KINDS.items() if self.page.locator(f"#now {where}").count()]
            if asked:
                return asked[0]
            assert time.monotonic() < ends, "the page asks nothing"
            self.page.wait_for_timeout(100)

    def answer_plausibly(self, kind: str) -> None:
        """Answer one thing with an invented value that its limits allow, and confirm the read-back."""
        before = self.page.locator("#now > div").get_attribute("data-seq")
        if kind == "release":
            self.release()
        elif kind == "contacts":
            self.say_as_photographed(PHOTO_OF_STEP[self.step])
        elif kind == "stroke":
            self.mark_stroke()
        elif kind == "photo":
            self.choose_file(PHOTOS / PHOTO_OF_STEP.get(self.step, "job_001.jpg"))
        else:
            self._fill(kind)
            self.confirm_all()
        until(self.page, f"document.querySelector('#now > div').dataset.seq !== {before!r}")

    def _fill(self, kind: str) -> None:
        until_field = self.page.locator("#answer-until")
        if until_field.count():
            day = "2099-12-31"
            until_field.fill(day if until_field.get_attribute("type") == "date" else f"{day}T12:00")
        if kind in {"number", "turns"}:
            hint = self.page.locator(f"label[for=answer-{kind}] .hint")
            least = re.search(r"[0-9.]+", hint.inner_text()) if hint.count() else None
            self.page.fill(f"#answer-{kind}", "42" if kind == "turns" else least.group() if least else "0")
        if kind == "text":
            valve = "valve" in self.page.inner_text(".question .ask")
            self.page.fill("#answer-text", "RW-204" if valve else "4711")
        where = KINDS[kind] if kind in {"say", "choice"} else "form[data-fill] button"
        self.page.locator(f"#now {where}").nth(self._picked() if kind == "choice" else 0).click()

    def _picked(self) -> int:
        asked = self.page.inner_text("section[aria-label='The answer to give'] .ask")
        return LAMPS[self.step] if "lamps" in asked else int("open" in asked)

    @property
    def step(self) -> str:
        """The step in hand."""
        return str(self.page.locator("#now > div").get_attribute("data-step"))

    def say_as_photographed(self, photo: str) -> None:
        """Say the contacts that are asked for as they truly were when that photo was taken."""
        truth = truth_of(photo)
        fields = self.page.locator("form[data-contacts-form] input").evaluate_all(
            "all => all.map(one => one.dataset.label)"
        )
        self.pick({label: truth[label] for label in dict.fromkeys(fields)})
        self.say_contacts()
        self.confirm_all()

    def release(self) -> None:
        """Release a hold point of one's own with the password."""
        self.page.click("[data-release]")
        self.page.fill("#proof-password", self.example.people["technician"][1])
        if self.page.is_visible("#proof-why"):
            self.page.fill("#proof-why", "the green lamp was seen too late")
        self.page.click("#proof button[value=go]")
        self.page.wait_for_selector("#proof[open]", state="detached", timeout=SLOW_MS)

    def pick(self, states: Mapping[str, str]) -> None:
        """Pick a state for each contact, without saying it yet."""
        for label, state in states.items():
            choose(self.page, f"#pick-{label}-{state}")

    def say_contacts(self) -> None:
        """Say what was picked."""
        self.page.locator("form[data-contacts-form]:visible").first.locator("button").click()
        self.wait_for_read_back()

    def all_contacts(self, states: Mapping[str, str]) -> None:
        """Say the contacts of one rotor and confirm them."""
        self.page.wait_for_selector(f"#pick-{next(iter(states))}-open", state="attached", timeout=SLOW_MS)
        self.pick(states)
        self.say_contacts()
        self.confirm_all()

    def say_again(self, states: Mapping[str, str]) -> None:
        """Say contacts once more, which were said before."""
        self.page.click("#again-contacts summary")
        self.pick(states)
        self.say_contacts()

    def mark_stroke(self, seconds: float = 3.0) -> None:
        """Mark a stroke by its two buttons, so many seconds apart."""
        self.page.click("[data-moment]:has-text('Starts')")
        self.page.wait_for_timeout(1000 * seconds)
        self.page.click("[data-moment]:has-text('Stands still')")
        self.page.wait_for_selector(".marks li >> nth=1", timeout=SLOW_MS)

    def open_camera(self) -> None:
        """Open the camera."""
        self.page.click("[data-camera]")
        self.page.wait_for_selector("#camera[open]")
        until(self.page, "document.getElementById('camera-view').videoWidth > 0")

    def shoot(self) -> None:
        """Take the photo."""
        self.page.click("#shutter")

    def choose_file(self, photo: Any) -> None:
        """Choose a photo from a file."""
        self.page.set_input_files("input[data-file]", photo)

    def wait_until_told(self) -> None:
        """Wait until said, seen and wanted stand side by side, the photo read."""
        self.page.wait_for_selector(".verdicts", timeout=SLOW_MS)
        self.page.wait_for_selector("figcaption:has-text(', read')", timeout=SLOW_MS)

    def wait_until_held(self) -> None:
        """Wait until only the second person is lacking."""
        self.page.wait_for_selector("text=waits here for the second person", timeout=SLOW_MS)

    def resume(self, reason: str) -> None:
        """Resume the work that this person stopped."""
        self.page.fill("form[data-resume] input", reason)
        self.page.click("form[data-resume] button")
        self.page.wait_for_selector("form[data-resume]", state="detached", timeout=SLOW_MS)

    def sign_in_again(self) -> None:
        """Sign in again in the page that was left open."""
        name, password = self.example.people["technician"]
        self.page.fill("#again-name", name)
        self.page.fill("#again-password", password)
        self.page.click("#again button[value=go]")


class Verifier:
    """The second person, at the desk."""

    def __init__(self, page: Any, example: Example) -> None:
        self.page, self.example = page, example

    def open(self, step: str) -> None:
        """Open one step at the desk."""
        self.page.goto(f"{self.example.address}/desk/{self.example.job}/{step}")
        self.page.wait_for_selector("body[data-ready]")

    def wait_for_photo(self) -> None:
        """Wait until the photo stands there by itself."""
        self.page.wait_for_selector("#photo", timeout=SLOW_MS)
        until(self.page, "document.getElementById('photo')?.naturalWidth > 0")

    def fill(self, rotors: Mapping[str, tuple[str, str]], tag: str = "RW-204") -> None:
        """State the tag, and by rotor what must be and what is seen."""
        self.page.fill("#tag", tag)
        for rotor, (must, seen) in rotors.items():
            choose(self.page, f"#must-{rotor}-{must}")
            choose(self.page, f"#seen-{rotor}-{seen}")

    def store(self) -> None:
        """Store the judgement and wait until everything stands side by side."""
        self.page.click("#judgement button.main")
        self.page.wait_for_selector("#opinion", timeout=SLOW_MS)

    def conclude(self, opinion: str, reason: str = "") -> None:
        """Give an opinion."""
        if reason:
            self.page.fill("#why", reason)
        self.page.click(f"#opinion button[value={opinion}]")
        self.page.wait_for_selector("#opinion", state="detached", timeout=SLOW_MS)

    def release(self, password: str) -> None:
        """Release the hold point with the password."""
        self.page.fill("#release-password", password)
        self.page.click("#release button")
        self.page.wait_for_selector("#release", state="detached", timeout=SLOW_MS)
