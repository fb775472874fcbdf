"""Drives the real service from outside: starts it as a process of its own and speaks HTTP with it."""

import hashlib
import json
import os
import re
import resource
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any, Self

import httpx2

from tests.builders import ROOT, new_id

PASSWORD = "seven slow barges pass"  # noqa: S105 - of people who live for one test
QUICK = {
    "LIMITWITNESS_ARGON2_MEMORY_KIB": "64",
    "LIMITWITNESS_DISK_FLOOR_BYTES": "0",
    "LIMITWITNESS_WORKERS": "1",
    "OMP_NUM_THREADS": "1",
}


class Service:
    """One running service on a folder; started again on the same folder it goes on where it was."""

    def __init__(self, folder: Path, *options: str, limit_bytes: int | None = None, **settings: str) -> None:
        own = {f"LIMITWITNESS_{name.upper()}": value for name, value in settings.items()}
        self.folder = folder
        self.said: list[str] = []
        self.callers: list[Caller] = []
        self.errors = folder.with_name(folder.name + ".log").open("ab")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "service", "serve", "--data", folder, "--port", "0", *options],
            cwd=ROOT,
            env={**os.environ, **QUICK, **own},
            stdout=subprocess.PIPE,
            stderr=self.errors,
            text=True,
            preexec_fn=_limiting(limit_bytes) if limit_bytes else None,  # noqa: PLW1509 - one call, no lock
        )
        self.address = self._address()

    def _address(self) -> str:
        for line in self.process.stdout:
            self.said.append(line.strip())
            if line.startswith("Open "):
                threading.Thread(target=self.process.stdout.read, daemon=True).start()
                return line.split()[1]
        self.process.wait()
        self._close()
        raise AssertionError(f"the service did not start: {self.said} {self.log()}")

    def log(self) -> str:
        """Return what it wrote on stderr."""
        return Path(self.errors.name).read_text()

    def find(self, pattern: str) -> str:
        """Return the first group of the first line on stdout that fits."""
        found = (re.search(pattern, line) for line in self.said)
        return next(match.group(1) for match in found if match)

    def workers(self) -> list[int]:
        """Return the process ids of its workers."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children")
        return [int(one) for one in children.read_text().split()]

    def kill(self) -> None:
        """End all of its processes at once, as a loss of power would."""
        for one in (self.process.pid, *self.workers()):
            os.kill(one, signal.SIGKILL)
        self.process.wait()
        self._close()

    def stop(self) -> int:
        """Ask it to stop and return its exit status."""
        self.process.terminate()
        try:
            return self.process.wait(timeout=30)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise
        finally:
            self._close()

    def caller(self) -> "Caller":
        """Return somebody who speaks with it until it ends."""
        self.callers.append(Caller(self.address))
        return self.callers[-1]

    def _close(self) -> None:
        for caller in self.callers:
            caller.close()
        self.process.stdout.close()
        self.errors.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.stop()


def _limiting(size: int):
    """Return what makes each file of a process at most this long, as a full disk would."""

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    return limit


class Caller:
    """One person at one device, speaking HTTP; counts the items that the device makes."""

    def __init__(self, address: str, http: Any = None) -> None:
        self.http = http or httpx2.Client(base_url=address, timeout=30)
        self.seq = 0
        self.known: int | None = None
        self.job = ""

    def close(self) -> None:
        self.http.close()

    def get(self, path: str, **more: Any) -> Any:
        return self.http.get(path, **more)

    def post(self, path: str, body: Any = None) -> Any:
        return self.http.post(path, json=body)

    def ok(self, answer: Any) -> Any:
        """Return the JSON of an answer that must be a success."""
        assert answer.status_code < 300, f"{answer.status_code} {answer.text}"
        return answer.json() if answer.content else None

    def sign_in(self, name: str, password: str = PASSWORD, device_token: str | None = None) -> dict[str, Any]:
        told = self.ok(
            self.post("/v1/session", {"name": name, "password": password, "device_token": device_token})
        )
        self.http.headers["Authorization"] = f"Bearer {told['token']}"
        return told

    def prove(self, password: str = PASSWORD) -> None:
        told = self.ok(self.post("/v1/session/proof", {"password": password}))
        self.http.headers["Authorization"] = f"Bearer {told['token']}"

    def put_media(self, content: bytes, media_type: str) -> str:
        sha256 = hashlib.sha256(content).hexdigest()
        self.ok(self.http.put(f"/v1/media/{sha256}", content=content, headers={"Content-Type": media_type}))
        return sha256

    def item(self, body: dict[str, Any], identity: str | None = None, seq: int | None = None) -> Any:
        """Put an item with the next number of this device, and return the answer."""
        if seq is None:
            self.seq += 1
            seq = self.seq
        clock = {"device_time": "2031-05-06T09:08:07+02:00", "known_seq": self.known}
        message = {"device_seq": seq, **clock, **body}
        return self.http.put(f"/v1/jobs/{self.job}/items/{identity or new_id()}", json=message)

    def say(self, step: str, intent: str, slots: dict[str, Any], answers: str | None = None) -> str:
        """Make a typed statement and return its identity."""
        body = {"kind": "statement", "step": step, "intent": intent, "slots": slots, "answers": answers}
        return self.ok(self.item(body))["item"]

    def confirm(self, step: str, said: str) -> None:
        """Confirm the read-back of a statement."""
        self.say(step, "control", {"action": "read_back_right"}, answers=said)

    def photo(self, step: str, content: bytes, media_type: str = "image/jpeg", **more: Any) -> str:
        """Take a photo and return its identity."""
        sha256 = self.put_media(content, media_type)
        return self.ok(self.item({"kind": "photo", "step": step, "media": sha256, **more}))["item"]

    def view(self) -> dict[str, Any]:
        """Return the job as this person may see it."""
        shown = self.ok(self.get(f"/v1/jobs/{self.job}"))
        self.known = shown["head"]["seq"]
        return shown

    def settled(self, seconds: float = 40) -> dict[str, Any]:
        """Return the job once nothing waits to be heard or read."""
        ends = time.monotonic() + seconds
        while time.monotonic() < ends:
            shown = self.view()
            if not shown["being_worked_on"]:
                return shown
            time.sleep(0.1)
        raise AssertionError(f"still waiting for {shown['being_worked_on']}")


def set_password(caller: Caller, token: str, password: str = PASSWORD) -> None:
    caller.ok(caller.post("/v1/passwords", {"token": token, "password": password}))


def first_administrator(service: Service) -> Caller:
    """Use the one-time link of a first start and return the administrator, signed in."""
    caller = service.caller()
    set_password(caller, service.find(r"/invitation#(\S+)"))
    caller.sign_in("administrator")
    return caller


def enrol(administrator: Caller, name: str = "blue phone") -> str:
    """Enrol a device and return its token."""
    offer = administrator.ok(administrator.post("/v1/devices/invitations", {"name": name}))
    return administrator.ok(administrator.post("/v1/devices", {"token": offer["token"]}))["device_token"]


def add_person(administrator: Caller, name: str, *roles: str) -> str:
    """Add a person with a password and return the identity."""
    sign_in_name = name.lower().replace(" ", ".")
    body = {"name": name, "sign_in_name": sign_in_name, "roles": list(roles)}
    added = administrator.ok(administrator.post("/v1/persons", body))
    set_password(administrator, added["invitation"]["token"])
    return added["person"]["id"]


def open_sample_job(
    administrator: Caller, people: dict[str, list[str]], procedure: str = "one_checkpoint"
) -> str:
    """Store the sample definitions, open the job on them, and return its identity."""
    folder = ROOT / "sample_media" / "jobs" / "rw-204"
    chart = administrator.put_media((folder / "chart.yaml").read_bytes(), "application/yaml")
    layout = administrator.put_media((folder / "layout.json").read_bytes(), "application/json")
    photo = json.loads((folder / "layout.json").read_bytes())["reference_photo"]
    body = {
        "valve": {"tag": "RW-204", "description": "raw water inlet to the west filters"},
        "chart": chart,
        "layout": layout,
        "reference_photo": administrator.put_media((folder / photo).read_bytes(), "image/jpeg"),
        "procedure": procedure,
        "people": people,
    }
    return administrator.ok(administrator.post("/v1/jobs", body))["job"]


def spoken(caller: Caller, step: str, clip: Path) -> str:
    """Send a clip and return its identity."""
    sha256 = caller.put_media(clip.read_bytes(), "audio/ogg")
    return caller.ok(caller.item({"kind": "clip", "step": step, "media": sha256}))["item"]


CONDUCTORS = ("line_one", "line_two", "line_three")
PAIRS = [(one, "earth") for one in CONDUCTORS] + [
    (one, other) for place, one in enumerate(CONDUCTORS) for other in CONDUCTORS[place + 1 :]
]


def answer_typed(caller: Caller, step: str, circuits: tuple[str, ...] = ()) -> None:
    """Answer one of the steps before the checkpoint by typed statements with their read-backs confirmed."""
    volts = {"quantity": "voltage", "value": 0, "unit": "V"}
    sources = ("motor_supply", "control_supply")
    statements = {
        "prepare": [("tag", {"of": "valve", "value": "RW-204"})],
        "isolate": [
            *(("isolation", {"source": source, "state": "off"}) for source in sources),
            *(("isolation", {"source": source, "item": "lock", "state": "on"}) for source in sources),
            *(("isolation", {"source": source, "item": "tag", "state": "on"}) for source in sources),
            ("isolation", {"item": "start_attempt", "state": "no_start"}),
        ],
        "prove_dead": [
            ("tester", {"result": "live", "when": "before"}),
            *(("measure", {**volts, "from": one, "to": other}) for one, other in PAIRS),
            *(("measure", {**volts, "from": one, "to": "earth"}) for one in circuits),
            ("tester", {"result": "live", "when": "after"}),
        ],
    }[step]
    for intent, slots in statements:
        caller.confirm(step, caller.say(step, intent, slots))


def circuits_to_prove(view: dict[str, Any]) -> tuple[str, ...]:
    """Return the circuits fed from elsewhere that the open step wants measured, as slots name them."""
    ids = [need["id"] for step in view["open_steps"] for need in step["needs"]]
    return tuple(
        one.removeprefix("foreign_").removesuffix("_earth") for one in ids if one.startswith("foreign_")
    )
