"""Real Chromium on the pages of a real service.

Phone or desk size, a microphone and a camera fed from samples.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from tests.builders import SAMPLES

CHROMIUM = Path(os.environ.get("LIMITWITNESS_CHROMIUM", "/usr/bin/chromium"))
MISSING = (
    "no browser: pip install 'limitwitness[browser]', put Chromium at /usr/bin/chromium "
    "or name it in LIMITWITNESS_CHROMIUM"
)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-fake-device-for-media-stream",
]
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 2,
    "is_mobile": True,
    "has_touch": True,
}
DESK = {"viewport": {"width": 1440, "height": 900}}


def require_browser() -> Any:
    """Return playwright's entry.

    Skips with one line where it or Chromium is missing, or fails where nothing may be.
    """
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        sync_playwright = None
    if sync_playwright is None or not CHROMIUM.exists():
        if os.environ.get("LIMITWITNESS_NOTHING_SKIPPED"):
            pytest.fail(MISSING)
        pytest.skip(MISSING)
    return sync_playwright


@contextmanager
def chromium(
    sound: Path | None = None,
    picture: Path | None = None,
    *,
    granted: bool = True,
    more: tuple[str, ...] = (),
) -> Iterator[Any]:
    """Run Chromium; `sound` (WAV) is what its microphone hears, `picture` (MJPEG) what its camera sees.

    With `granted` false the browser refuses microphone and camera, as a person who presses "block" does.
    """
    flags = [*FLAGS, *more, "--use-fake-ui-for-media-stream" if granted else "--deny-permission-prompts"]
    flags += [f"--use-file-for-fake-audio-capture={sound}%noloop"] if sound else []
    flags += [f"--use-file-for-fake-video-capture={picture}"] if picture else []
    with require_browser()() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=flags)
        try:
            yield browser
        finally:
            browser.close()


def as_camera(photo: Path, folder: Path) -> Path:
    """Return a motion JPEG of one picture, which a fake camera shows."""
    picture = cv2.imread(str(photo))
    kept = folder / f"{photo.stem}.mjpeg"
    kept.write_bytes(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes())
    return kept


def as_microphone(clip: Path, folder: Path, silence_s: float = 1.0) -> Path:
    """Return a WAV file that a fake microphone plays: the clip with silence before and after it."""
    import soundfile

    sound, rate = soundfile.read(clip, dtype="int16")
    rest = np.zeros(int(silence_s * rate), np.int16)
    kept = folder / f"{clip.stem}.wav"
    soundfile.write(kept, np.concatenate([rest, sound, rest]), rate, subtype="PCM_16")
    return kept


@dataclass
class Received:
    """What one page received (address and text of each response), and what it reported as wrong."""

    texts: list[tuple[str, str]] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


def watched(context: Any, *, whole: bool = False) -> tuple[Any, Received]:
    """Return a new page and the record of it; `whole` keeps the text of every response that it gets."""
    page, received = context.new_page(), Received()

    def _keep(route: Any) -> None:
        response = route.fetch(max_redirects=0)
        kind = response.headers.get("content-type", "")
        if not kind.startswith("image/"):
            received.texts.append((route.request.url, response.text()))
        route.fulfill(response=response)

    if whole:
        page.route("**/*", _keep)
    page.on("pageerror", lambda error: received.faults.append(str(error)))
    page.on(
        "console", lambda message: received.faults.append(message.text) if message.type == "error" else None
    )
    return page, received


def sign_in(page: Any, address: str, name: str, password: str, *, device: str = "", go: str = "/") -> None:
    """Sign in on the page as a person does.

    `device` is the word that makes this browser an enrolled device.
    """
    page.goto(f"{address}/sign-in?go={go}" + (f"#device={device}" if device else ""))
    page.fill("#name", name)
    page.fill("#password", password)
    page.click("button:has-text('Sign in')")
    page.wait_for_url(f"{address}{go}")


@dataclass(frozen=True)
class Example:
    """The example that `serve --example` prints: its address, job, people and phone."""

    address: str
    job: str
    people: dict[str, tuple[str, str]]
    phone: str


def example_of(service: Any) -> Example:
    """Return what a service that was started with --example said."""
    people = {}
    for role in ("technician", "verifier"):
        name = service.find(rf"^{role}: sign in as (\S+) ")
        people[role] = (name, service.find(rf"^{role}: sign in as \S+ with: (\S+)"))
    return Example(service.address, service.find(r"^Job (\S+) on"), people, service.find(r"#device=(\S+)$"))


PHOTOS = SAMPLES / "photos"
CLIPS = SAMPLES / "clips"
