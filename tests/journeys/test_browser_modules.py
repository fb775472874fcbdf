"""The modules that make identities, clocks and hashes, run in the browser and held to what is published."""

import hashlib
import re
import threading
import time
import uuid
from datetime import datetime
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

import pytest

from service.pages.rendering import FOLDER
from tests.journeys.browser_driving import chromium

pytestmark = [pytest.mark.browser, pytest.mark.timeout(120)]


class Quiet(SimpleHTTPRequestHandler):
    """Serves the modules without a word on stderr."""

    def log_message(self, *_):
        """Say nothing."""


@pytest.fixture(scope="module")
def plain_page():
    """A page on which the modules can be imported."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(FOLDER / "static")))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    with chromium() as running:
        page = running.new_context(timezone_id="Asia/Kathmandu").new_page()
        page.goto(f"http://127.0.0.1:{server.server_address[1]}/icon.svg")
        yield page
    server.shutdown()
    server.server_close()


@pytest.mark.outside(source="FIPS 180-4 by way of CPython's hashlib")
@pytest.mark.parametrize("size", [0, 1, 3, 55, 56, 63, 64, 65, 119, 120, 1000, 70_001])
def test_the_plain_sha256_is_that_of_the_standard(plain_page, size):
    content = bytes((number * 37 + 11) % 256 for number in range(size))
    script = f"""import('/sha256.js').then(async ({{ plainSha256, sha256 }}) => {{
      const bytes = Uint8Array.from({{ length: {size} }}, (_, number) => (number * 37 + 11) % 256);
      return [plainSha256(bytes), await sha256(bytes)];
    }})"""
    assert plain_page.evaluate(script) == [hashlib.sha256(content).hexdigest()] * 2


@pytest.mark.outside(source="RFC 9562, 5.7: UUID version 7")
def test_identities_are_uuids_of_version_7_in_the_order_of_time(plain_page):
    script = "import('/identity.js').then(({ uuid7 }) => [1000, 2000, Date.now()].map((at) => uuid7(at)))"
    made = [uuid.UUID(text) for text in plain_page.evaluate(script)]
    assert [one.version for one in made] == [7, 7, 7]
    assert {one.variant for one in made} == {uuid.RFC_4122}
    assert [one.int >> 80 for one in made[:2]] == [1000, 2000]
    assert abs((made[2].int >> 80) - time.time() * 1000) < 60_000
    assert made == sorted(made)


@pytest.mark.outside(source="RFC 3339, 5.6, read by CPython's datetime")
def test_the_wall_clock_carries_the_offset_of_the_device(plain_page):
    instant = "new Date(Date.UTC(2031, 4, 6, 7, 8, 9, 10))"
    script = f"import('/identity.js').then(({{ wallClock }}) => wallClock({instant}))"
    told = plain_page.evaluate(script)
    assert told.endswith("+05:45")
    assert datetime.fromisoformat(told).isoformat(timespec="milliseconds") == "2031-05-06T12:53:09.010+05:45"


def test_codes_for_photos_have_no_letters_that_look_alike(plain_page):
    script = "import('/identity.js').then(({ challenge }) => Array.from({ length: 200 }, challenge))"
    codes = plain_page.evaluate(script)
    assert all(re.fullmatch("[ACDEFHJKLMNPRTUVWXY34679]{4}", code) for code in codes)
    assert len(set(codes)) > 190


def test_monotonic_time_only_runs_forward_within_one_boot(plain_page):
    script = "import('/identity.js').then(({ clocks }) => [clocks(), clocks()])"
    first, second = plain_page.evaluate(script)
    assert first["boot_id"] == second["boot_id"]
    assert second["monotonic_ns"] >= first["monotonic_ns"]
