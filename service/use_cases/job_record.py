"""A job as it stands in the record: rebuilt from its entries and the definitions pinned at its opening.

What an earlier request computed is taken up where the journal still says the same; it is never asked
instead of it.
"""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from service.domain.chart import ContactChart
from service.domain.entries import Entry
from service.domain.expansion import foreign_circuits, pin_job
from service.domain.incoming import Incoming
from service.domain.job import apply, decide, replay
from service.domain.job_state import JobState
from service.domain.people import Person
from service.domain.pinned import PinnedJob, SiteRules, Valve
from service.domain.refusals import Conflict, NotFound
from service.ports import Definitions, JobRow, Ports, Transaction, Vocabulary, stamp

CHART, LAYOUT, PROCEDURE, PHRASES, MODELS, RULES, VALVE = PINS = (
    *("chart", "layout", "procedure", "phrases", "models", "site_rules", "valve"),
)
"""What is pinned at the opening of a job, each by the SHA-256 of stored bytes."""

REFERENCE = "reference_photo"
"""Pinned where the layout has a photo of its own."""

ACTUATOR = "actuator"
"""Pinned where the job states scale and motor of the drive; without it no stroke time is expected."""


MOST_REMEMBERED = 64
"""Jobs whose state is kept to save time; more than a shift has open."""


@dataclass(frozen=True)
class JobRecord:
    """One job within one transaction: its line in the listings, its entries and its state."""

    row: JobRow
    pinned: PinnedJob
    entries: tuple[Entry, ...]
    state: JobState


def load_job(ports: Ports, tx: Transaction, site_id: str, job_id: str) -> JobRecord:
    """Return a job of this site; raises NotFound."""
    row = tx.listings.job(site_id, job_id)
    if row is None:
        raise NotFound("There is no such job on this site.", field="job")
    known = _remembered(ports, tx, row)
    if known is not None:
        return known
    entries = tuple(tx.journal.entries(job_id))
    if not entries or entries[0].kind != "job_opened":
        raise Conflict("The journal of this job does not begin with its opening.")
    pinned = pinned_job(ports, row, entries[0].body)
    return _remember(ports, JobRecord(row, pinned, entries, replay(pinned, entries)))


def _remembered(ports: Ports, tx: Transaction, row: JobRow) -> JobRecord | None:
    """Return the state that an earlier request computed, brought up to date.

    None where the journal is another.

    Entries never change and each names the one before it: where the newest known entry still stands with
    its hash, all before it stand too.
    """
    known: JobRecord | None = ports.remembered.get(row.id)
    if known is None:
        return None
    newer = tx.journal.entries(row.id, known.state.last_seq)
    if not newer or newer[0].hash != known.entries[-1].hash:
        return None
    return _remember(ports, _further(replace(known, row=row), newer[1:]))


def _remember(ports: Ports, record: JobRecord) -> JobRecord:
    if len(ports.remembered) > MOST_REMEMBERED:
        ports.remembered.clear()
    ports.remembered[record.row.id] = record
    return record


def _further(record: JobRecord, newer: Sequence[Entry]) -> JobRecord:
    state = record.state
    for entry in newer:
        state = apply(state, entry)
    return replace(record, entries=(*record.entries, *newer), state=state)


def pinned_job(ports: Ports, row: JobRow, opened: Mapping[str, Any]) -> PinnedJob:
    """Rebuild what was pinned; raises Conflict where a pinned file has changed since."""
    return pinned_by(ports.definitions, ports.media.get, (row.id, row.site_id), opened)


def pinned_by(
    definitions: Definitions,
    get: Callable[[str], bytes],
    job_and_site: tuple[str, str],
    opened: Mapping[str, Any],
) -> PinnedJob:
    """Rebuild what the opening entry `opened` pinned, its files had by their SHA-256 from `get`."""
    pins: Mapping[str, str] = opened["pins"]
    files = {name: get(pins[name]) for name in (CHART, LAYOUT, PROCEDURE, RULES, VALVE)}
    layout = definitions.layout(files[LAYOUT])
    job, site = job_and_site
    return pin_job(
        job=job,
        site=site,
        valve=valve_of(json.loads(files[VALVE])),
        chart=definitions.chart(files[CHART], layout),
        procedure=definitions.procedure(files[PROCEDURE]),
        people=people_of(opened["people"]),
        rules=rules_of(json.loads(files[RULES])),
        pins=pins,
        circuits=definitions.circuits(files[CHART], layout),
        actuator=definitions.actuator(get(pins[ACTUATOR])) if ACTUATOR in pins else None,
    )


def advance(ports: Ports, tx: Transaction, record: JobRecord, incoming: Incoming) -> JobRecord:
    """Let the domain decide on something that came in, append what it decides, and renew the listing.

    The transaction MUST hold the write lock, so that the state decided on is still the state appended to.
    """
    now = stamp(ports.clock.now())
    new = decide(record.state, incoming, at=now)
    if not new:
        return record
    added = tx.journal.append(record.row.id, record.row.site_id, new, now)
    after = _further(record, added)
    row = renewed(record.row, after.state, now)
    tx.listings.put_job(row)
    return replace(after, row=row)


def renewed(row: JobRow, state: JobState, now: str) -> JobRow:
    """Return a job's line as its state says."""
    current = state.current
    summary = {
        "entries": state.last_seq + 1,
        "title": current.title if current else None,
        "hold_point": bool(current and current.hold_point),
        "stopped": state.stopped,
    }
    return replace(
        row, status=status_of(state), step=current.id if current else None, summary=summary, changed=now
    )


def status_of(state: JobState) -> str:
    """Return one word for the list of jobs: stopped, closed or open."""
    if state.stopped:
        return "stopped"
    return "closed" if state.closed else "open"


def valve_of(document: Mapping[str, Any]) -> Valve:
    """Return a valve from its pinned document."""
    lists = {name: tuple(document[name]) for name in ("sources", "other_circuits")}
    return Valve(**{**document, **lists})


def rules_of(document: Mapping[str, Any]) -> SiteRules:
    """Return the site rules from their pinned document."""
    return SiteRules(**document)


def vocabulary_of(valve: Valve, chart: ContactChart) -> Vocabulary:
    """Return what a job calls things, as spoken."""
    sources = tuple(source.replace("_", " ") for source in valve.sources)
    labels = tuple(contact.label for contact in chart.contacts)
    return Vocabulary(labels, sources, tuple(foreign_circuits(valve, chart)))


def people_of(listed: Sequence[Mapping[str, Any]]) -> dict[str, Person]:
    """Return the people of a job from its opening entry, by their identity."""
    return {one["id"]: Person(one["id"], one["name"], frozenset(one["roles"])) for one in listed}
