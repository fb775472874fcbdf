"""The house composed as in production, with a clock moved by hand and, where a test says so.

Other engines.
"""

import hashlib
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.compose import House, compose
from service.ports import SeenPhoto
from service.settings import Settings
from service.use_cases.keep_registers import start_site
from service.use_cases.play_example import play_to_first_photo
from service.use_cases.sign_in import recognise
from tests.conftest import StandingClock
from tests.driving import Caller, add_person, enrol, open_sample_job, set_password


class StandInReader:
    """A reader that is told what each photo shows; the real one has tests of its own and the journeys."""

    def __init__(self) -> None:
        self.shows: dict[str, Mapping[str, str]] = {}
        self.says: dict[str, Mapping[str, object]] = {}
        self.tapped: list[tuple[float, float] | None] = []

    def show(self, photo: bytes, contacts: Mapping[str, str]) -> None:
        self.shows[hashlib.sha256(photo).hexdigest()] = contacts

    def say(self, photo: bytes, reading: Mapping[str, object]) -> None:
        """Let the reading of a photo say this as well."""
        self.says[hashlib.sha256(photo).hexdigest()] = reading

    def read(self, photo, layout, chart, reference=None, upper_edge=None) -> SeenPhoto:
        self.tapped.append(upper_edge)
        seen = self.shows.get(hashlib.sha256(photo).hexdigest())
        if seen is None:
            nothing = {contact.label: "none" for contact in chart.contacts}
            return SeenPhoto(nothing, {}, {"verdict": "refused", "reason": "too blurred"})
        certain = {label: 0.99 for label, state in seen.items() if state in {"closed", "open"}}
        more = self.says.get(hashlib.sha256(photo).hexdigest(), {})
        return SeenPhoto(
            seen, certain, {"verdict": "read", "reason": None, **more}, annotated=b"drawn " + photo
        )

    def fingerprint(self) -> str:
        return "stand-in"


@dataclass
class Crew:
    """The people of the sample job, each signed in."""

    administrator: Caller
    technician: Caller
    verifier: Caller
    engineer: Caller
    people: dict[str, str]
    device_token: str
    job: str

    def everybody(self) -> dict[str, Caller]:
        names = ("administrator", "technician", "verifier", "engineer")
        return {name: getattr(self, name) for name in names}


@pytest.fixture
def reader() -> StandInReader:
    return StandInReader()


SETTINGS = {"argon2_memory_kib": 64, "disk_floor_bytes": 0}


def callers(app, made: list[TestClient]):
    """Return a maker of callers, each with a connection of its own."""

    def make() -> Caller:
        client = TestClient(app, raise_server_exceptions=False)
        made.append(client)
        return Caller("", client)

    return make


def gather(administrator: Caller, caller) -> Crew:
    """Add the people of the sample job, enrol a device, open the job."""
    token = enrol(administrator)
    people, signed_in = {}, {}
    for name, role in (("Tamsin Oake", "technician"), ("Ivo Lark", "verifier"), ("Edda Quist", "engineer")):
        people[role] = add_person(administrator, name, role)
        signed_in[role] = caller()
        device = token if role == "technician" else None
        signed_in[role].sign_in(name.lower().replace(" ", "."), device_token=device)
    job = open_sample_job(administrator, {person: [role] for role, person in people.items()})
    for one in (administrator, *signed_in.values()):
        one.job = job
    return Crew(administrator, **signed_in, people=people, device_token=token, job=job)


def first_administrator(house: House, caller) -> Caller:
    _, token = start_site(house.ports, "Ravenwick Works")
    admin = caller()
    set_password(admin, token)
    admin.sign_in("administrator")
    return admin


@dataclass
class Prepared:
    """A folder with the sample job, made once and copied for each test, and how to speak to it."""

    folder: Path
    crew: Crew
    authorizations: dict[str, str]
    seq: int


def prepare(folder: Path, *, to_photo_step: bool) -> Prepared:
    """Make the sample job in a folder, at its opening or at its first photo step."""
    house = compose(Settings(folder=folder, **SETTINGS), clock=StandingClock(), reading=StandInReader())
    made: list[TestClient] = []
    caller = callers(house.app(), made)
    crew = gather(first_administrator(house, caller), caller)
    tokens = {name: one.http.headers["Authorization"] for name, one in crew.everybody().items()}
    seq = 0
    if to_photo_step:
        asker = recognise(house.ports, tokens["technician"].removeprefix("Bearer "))
        record = play_to_first_photo(house.ports, asker, crew.job)
        seq = record.state.devices[asker.device_id].done
    for client in made:
        client.close()
    house.close()
    return Prepared(folder, crew, tokens, seq)


@pytest.fixture(scope="session")
def opened_once(tmp_path_factory) -> Prepared:
    return prepare(tmp_path_factory.mktemp("opened") / "data", to_photo_step=False)


@pytest.fixture(scope="session")
def photo_step_once(tmp_path_factory) -> Prepared:
    return prepare(tmp_path_factory.mktemp("photo-step") / "data", to_photo_step=True)


@pytest.fixture
def folder(tmp_path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def house(folder, clock, reader):
    built = compose(Settings(folder=folder, **SETTINGS), clock=clock, reading=reader)
    yield built
    built.close()


@pytest.fixture
def caller(house):
    """Return a maker of callers on the house's application."""
    made: list[TestClient] = []
    yield callers(house.app(), made)
    for client in made:
        client.close()


@pytest.fixture
def administrator(house: House, caller) -> Caller:
    return first_administrator(house, caller)


def sit_down(prepared: Prepared, caller) -> Crew:
    """Return the prepared crew, signed in on this test's copy."""
    seats = {}
    for name, authorization in prepared.authorizations.items():
        seats[name] = caller()
        seats[name].http.headers["Authorization"] = authorization
        seats[name].job = prepared.crew.job
    seats["technician"].seq = prepared.seq
    return replace(prepared.crew, **seats)


@pytest.fixture
def crew(opened_once: Prepared, folder, request) -> Crew:
    shutil.copytree(opened_once.folder, folder)
    return sit_down(opened_once, request.getfixturevalue("caller"))


@pytest.fixture
def at_photo_step(photo_step_once: Prepared, folder, request) -> Crew:
    """The sample job at its first photo step: everything before it answered by typed statements."""
    shutil.copytree(photo_step_once.folder, folder)
    return sit_down(photo_step_once, request.getfixturevalue("caller"))


@pytest.fixture
def work_off(house: House):
    """Return a function that lets a worker do all that waits."""
    worker = house.worker("worker-0")

    def work() -> int:
        done = 0
        while worker.work_once():
            done += 1
        return done

    return work
