"""Open a job: store what it rests on, pin each by its hash, and write the first entry."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from service.domain.job import open_job as opening_entry
from service.domain.pinned import Valve
from service.domain.refusals import Malformed, NotFound
from service.journal.canonical import canonical
from service.journal.digests import is_sha256, sha256_hex
from service.ports import Asker, JobRow, LinkRow, MediaRow, Ports, Transaction, stamp
from service.use_cases import job_record
from service.use_cases.sign_in import require_role

TYPES = {
    job_record.CHART: "application/yaml",
    job_record.LAYOUT: "application/json",
    job_record.PROCEDURE: "application/yaml",
    job_record.PHRASES: "application/jsonl",
    job_record.REFERENCE: "image/jpeg",
    job_record.ACTUATOR: "application/yaml",
}
"""Content types of pinned files; the others are canonical JSON."""


@dataclass(frozen=True)
class JobRequest:
    """What a job rests on: the valve, the hashes of stored definitions, who may do what.

    `procedure` is the hash of a stored file or the name of a procedure that comes with the service;
    `reference_photo` is the hash of the layout's own photo, without which only photos with tags can be read.
    `actuator` is the hash of a valve file, which states scale and motor; without it no stroke time is expected.
    `people` maps persons of the site to their roles in this job.
    """

    valve: Valve
    chart: str
    layout: str
    procedure: str
    people: Mapping[str, Sequence[str]]
    reference_photo: str | None = None
    actuator: str | None = None


def open_job(ports: Ports, asker: Asker, request: JobRequest) -> JobRow:
    """Open a job; raises BadDefinition, NotFound for definitions or people that there are not, NotAllowed."""
    require_role(asker, "administrator", "engineer")
    with ports.transactions.reading() as tx:
        files = _files(ports, tx, asker.site_id, request)
    for content in files.values():
        ports.media.put(content)
    with ports.transactions.writing() as tx:
        return _open(ports, tx, asker, request, files)


def _open(
    ports: Ports, tx: Transaction, asker: Asker, request: JobRequest, files: Mapping[str, bytes]
) -> JobRow:
    now = stamp(ports.clock.now())
    pins = {name: sha256_hex(content) for name, content in files.items()}
    people = _people(tx, asker.site_id, request.people)
    valve = request.valve
    row = JobRow(ports.new_id(), asker.site_id, valve.tag, valve.description, "open", None, {}, now, now)
    pinned = job_record.pinned_job(ports, row, {"pins": pins, "people": people})
    tx.listings.put_job(row)
    for name, content in files.items():
        kept = MediaRow(
            row.site_id,
            pins[name],
            TYPES.get(name, "application/json"),
            len(content),
            now,
            person_id=asker.person_id,
        )
        tx.listings.put_media(kept)
        tx.listings.link_media(LinkRow(row.id, pins[name], row.site_id, "definition", name))
    first = opening_entry(pinned, asker.person_id)
    tx.journal.append(row.id, row.site_id, [first], now)
    opened = job_record.renewed(row, job_record.load_job(ports, tx, row.site_id, row.id).state, now)
    tx.listings.put_job(opened)
    return opened


def _files(ports: Ports, tx: Transaction, site_id: str, request: JobRequest) -> dict[str, bytes]:
    layout = _stored(ports, tx, site_id, request.layout, "layout")
    chart = _stored(ports, tx, site_id, request.chart, "chart")
    read = ports.definitions.chart(chart, ports.definitions.layout(layout))
    if is_sha256(request.procedure):
        procedure = _stored(ports, tx, site_id, request.procedure, "procedure")
    else:
        procedure = ports.definitions.shipped_procedure(request.procedure)
    site = tx.registers.site(site_id)
    reference = request.reference_photo
    own_photo = _stored(ports, tx, site_id, reference, "reference_photo") if reference else None
    drive = _stored(ports, tx, site_id, request.actuator, "actuator") if request.actuator else None
    return {
        **({job_record.ACTUATOR: drive} if drive is not None else {}),
        **({job_record.REFERENCE: own_photo} if own_photo is not None else {}),
        job_record.LAYOUT: layout,
        job_record.CHART: chart,
        job_record.PROCEDURE: procedure,
        job_record.PHRASES: ports.hearing.phrases(job_record.vocabulary_of(request.valve, read)),
        job_record.MODELS: canonical(
            {"hearer": ports.hearing.fingerprint(), "reader": ports.reading.fingerprint()}
        ),
        job_record.RULES: canonical(dict(site.rules) if site else {}),
        job_record.VALVE: canonical(_document(request.valve)),
    }


def _stored(ports: Ports, tx: Transaction, site_id: str, sha256: str, field: str) -> bytes:
    if tx.listings.media(site_id, sha256) is None:
        raise NotFound(f"No file of hash {sha256[:12]} is stored here.", field=field, hint="Put it first.")
    return ports.media.get(sha256)


def _people(tx: Transaction, site_id: str, roles: Mapping[str, Sequence[str]]) -> list[dict[str, Any]]:
    people: list[dict[str, Any]] = []
    for person_id, wanted in roles.items():
        person = tx.registers.person(person_id)
        if person is None or person.site_id != site_id:
            raise NotFound("There is no such person on this site.", field=f"people.{person_id}")
        lacking = set(wanted) - person.roles
        if lacking or not wanted:
            what = f"does not hold the role {min(lacking)}" if lacking else "is given no role"
            raise Malformed(f"{person.name} {what}.", field=f"people.{person_id}")
        people.append({"id": person.id, "name": person.name, "roles": sorted(set(wanted))})
    return people


def _document(valve: Valve) -> dict[str, Any]:
    return {name: list(value) if isinstance(value, tuple) else value for name, value in asdict(valve).items()}
