"""Two people and their devices, made and used by HTTP."""

import hashlib
import secrets
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import uuid_utils

from service.demo.web import Web

STARTED_NS = time.monotonic_ns()
"""When every device of the demo started; their clocks count from here."""


@dataclass
class Account:
    """A person signed in on an enrolled device, who sends items in the device's sequence."""

    web: Web
    name: str
    sign_in_name: str
    person: str
    password: str
    device_token: str | None
    token: str = ""
    sent: int = field(default=0)

    def sign_in(self) -> None:
        """Sign in and keep the token."""
        asked = {"name": self.sign_in_name, "password": self.password}
        if self.device_token:
            asked["device_token"] = self.device_token
        self.token = self.web.send("POST", "/v1/session", asked)["token"]

    def prove(self) -> None:
        """Give the password again, as a release needs it."""
        self.token = self.call("POST", "/v1/session/proof", {"password": self.password})["token"]

    def call(
        self,
        method: str,
        path: str,
        message: dict[str, Any] | None = None,
        content: tuple[str, bytes] | None = None,
    ) -> Any:  # noqa: ANN401 - the JSON of any answer
        """Make one request as this person."""
        return self.web.send(method, path, message, token=self.token, content=content)

    def store(self, kind: str, content: bytes) -> str:
        """Store media by its hash; returns the hash."""
        sha256 = hashlib.sha256(content).hexdigest()
        self.call("PUT", f"/v1/media/{sha256}", content=(kind, content))
        return sha256

    def send_item(self, job: str, step: str, known_seq: int, what: Mapping[str, Any]) -> dict[str, Any]:
        """Send one item of this device, made now; returns the acknowledgement."""
        self.sent += 1
        item = {
            **what,
            "step": step,
            "known_seq": known_seq,
            "device_seq": self.sent,
            "device_time": datetime.now().astimezone().isoformat(),
            "boot_id": f"boot of {self.sign_in_name}",
            "monotonic_ns": time.monotonic_ns() - STARTED_NS,
        }
        answer: dict[str, Any] = self.call("PUT", f"/v1/jobs/{job}/items/{uuid_utils.uuid7()}", item)
        return answer


def administrator(web: Web, invitation: str) -> Account:
    """Take the one-time link of the first start and sign in."""
    password = secrets.token_urlsafe(18)
    person = web.send("POST", "/v1/passwords", {"token": invitation, "password": password})
    account = Account(web, "Administrator", person["sign_in_name"], person["id"], password, None)
    account.sign_in()
    return account


def join(admin: Account, name: str, sign_in_name: str, roles: list[str], device: str) -> Account:
    """Register a person, enrol a device for them, and sign them in on it."""
    asked = {"name": name, "sign_in_name": sign_in_name, "roles": roles}
    added = admin.call("POST", "/v1/persons", asked)
    password = secrets.token_urlsafe(18)
    admin.web.send("POST", "/v1/passwords", {"token": added["invitation"]["token"], "password": password})
    offered = admin.call("POST", "/v1/devices/invitations", {"name": device})
    enrolled = admin.web.send("POST", "/v1/devices", {"token": offered["token"]})
    account = Account(
        admin.web, name, sign_in_name, added["person"]["id"], password, enrolled["device_token"]
    )
    account.sign_in()
    return account
