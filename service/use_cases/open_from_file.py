"""Open a job from a file of valve, chart, layout, procedure and people, by whoever may use this machine."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.domain.pinned import Valve
from service.domain.refusals import NotFound
from service.ports import (
    Asker,
    JobRow,
    MediaRow,
    MediaShape,
    Person,
    Ports,
    Session,
    Site,
    Transaction,
    stamp,
)
from service.use_cases.job_record import REFERENCE
from service.use_cases.keep_registers import NewPerson, invite_person, put_person
from service.use_cases.open_job import TYPES, JobRequest, open_job


@dataclass(frozen=True)
class JobFile:
    """A job file with the files that it names: contents of chart, layout and, unless it ships, procedure."""

    valve: Valve
    chart: bytes
    layout: bytes
    procedure: bytes | str
    people: Sequence[NewPerson]
    reference_photo: bytes | None = None
    actuator: bytes | None = None
    site: str | None = None


@dataclass(frozen=True)
class Opened:
    """The job, and the one-time tokens of people who were not registered before, by sign-in name."""

    row: JobRow
    invitations: Mapping[str, str]


def open_from_file(ports: Ports, file: JobFile) -> Opened:
    """Register the people that there are not yet, store the definitions.

    Open the job as the administrator.
    """
    with ports.transactions.writing() as tx:
        site = _site(ports, tx, file.site)
        asker = as_administrator(tx, site.id)
        invitations: dict[str, str] = {}
        people: dict[str, Sequence[str]] = {}
        for new in file.people:
            person = tx.registers.person_by_sign_in_name(new.sign_in_name)
            if person is None:
                person = put_person(ports, tx, site.id, new)
                invitations[new.sign_in_name] = invite_person(ports, tx, person)
            people[person.id] = sorted(new.roles)
    named = {
        "chart": file.chart,
        "layout": file.layout,
        "reference_photo": file.reference_photo,
        "actuator": file.actuator,
    }
    stored = {name: _store(ports, asker, name, content) for name, content in named.items() if content}
    procedure = file.procedure
    if isinstance(procedure, bytes):
        procedure = _store(ports, asker, "procedure", procedure)
    request = JobRequest(
        file.valve,
        stored["chart"],
        stored["layout"],
        procedure,
        people,
        stored.get("reference_photo"),
        stored.get("actuator"),
    )
    return Opened(open_job(ports, asker, request), invitations)


def as_administrator(tx: Transaction, site_id: str) -> Asker:
    """Return the site's first administrator as the asker of what is done on this machine itself."""
    held = [one for one in tx.registers.persons(site_id) if "administrator" in one.roles and one.active]
    if not held:
        raise NotFound("This site has no administrator.")
    return as_asker(held[0])


def as_asker(person: Person, device_id: str | None = None) -> Asker:
    """Return a person as the asker of what is done on this machine itself, outside any sign-in."""
    session = Session("", person.site_id, person.id, device_id, "", "", "")
    return Asker(person.site_id, person.id, person.name, person.roles, session, device_id)


def _site(ports: Ports, tx: Transaction, name: str | None) -> Site:
    sites = tx.registers.sites()
    if name is None and len(sites) == 1:
        return sites[0]
    found = next((site for site in sites if site.name == name), None)
    if found is not None:
        return found
    if sites and name is None:
        raise NotFound("There are several sites; name one.", field="site")
    site = Site(ports.new_id(), name or "Site", {})
    now = stamp(ports.clock.now())
    tx.registers.add_site(site, now)
    put_person(
        ports, tx, site.id, NewPerson("Administrator", f"administrator@{len(sites)}", ["administrator"])
    )
    return site


def _store(ports: Ports, asker: Asker, name: str, content: bytes) -> str:
    shape: MediaShape = "photo" if name == REFERENCE else "definition"
    inspected = ports.inspector.inspect(content, TYPES[name], shape)
    sha256 = ports.media.put(content)
    now = stamp(ports.clock.now())
    row = MediaRow(asker.site_id, sha256, inspected.type, len(content), now, person_id=asker.person_id)
    with ports.transactions.writing() as tx:
        tx.listings.put_media(row)
    return sha256
