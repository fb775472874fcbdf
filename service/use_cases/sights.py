"""What a person may be shown of a job, and the log of what was served, written with the answer itself.

Blindness is computed from this log, over every role and device of the person. What is shown MUST be noted
in the transaction that reads it, before it leaves the house.
"""

from collections.abc import Iterable, Mapping
from typing import cast

from service.domain.entries import Entry
from service.domain.job import Served, may_see
from service.domain.job_state import JobState
from service.domain.refusals import NotAllowed
from service.domain.sight import SIGHTS, Sight
from service.ports import Asker, Ports, ServedRow, ServedWhat, Transaction, stamp
from service.use_cases.job_record import JobRecord

OVERSEERS = frozenset({"engineer", "administrator"})
"""Roles of the site that may look at any job of it in which they have no part."""

SHOWN_BY: Mapping[str, Sight] = {
    "photo_taken_in": "photo",
    "clip_taken_in": "claim",
    "statement_made": "claim",
    "clip_heard": "claim",
    "item_conflicted": "claim",
    "photo_read": "reading",
    "finding_made": "finding",
    "gate_held": "finding",
    "judgement_given": "judgement",
    "opinion_given": "judgement",
}
"""What the body of an entry shows of its checkpoint, by kind; other kinds show nothing of it."""


def sights_of(tx: Transaction, record: JobRecord, asker: Asker) -> frozenset[str]:
    """Return what the asker may be shown as "what:step"; raises NotAllowed for who has no part in the job."""
    if asker.person_id in record.pinned.people:
        return may_see(asker.person_id, record.state, servings(tx, record, asker))
    if asker.roles & OVERSEERS:
        return frozenset(f"{what}:{step}" for step in record.pinned.expected for what in SIGHTS)
    raise NotAllowed("Only people named in the job, engineers and administrators see it.")


def may_be_shown(record: JobRecord, sights: Iterable[str], what: str, step: str | None) -> bool:
    """Tell whether something of a step may be shown; what belongs to no checkpoint primes nobody."""
    return step is None or step not in record.pinned.expected or f"{what}:{step}" in sights


def servings(tx: Transaction, record: JobRecord, asker: Asker) -> tuple[Served, ...]:
    """Return what this person was served of the job."""
    rows = tx.listings.served_to(record.row.id, asker.person_id)
    return tuple(
        Served(row.person_id, row.what, row.step, row.attempt or 1, row.journal_seq)
        for row in rows
        if row.step is not None
    )


def unnoted(
    tx: Transaction, record: JobRecord, asker: Asker, shown: Iterable[tuple[str, str]]
) -> list[tuple[str, str, int]]:
    """Return what of (what, step) pairs this person was not served yet, each with the checkpoint's attempt."""
    known = {(one.what, one.step, one.attempt) for one in servings(tx, record, asker)}
    attempts = {step: record.state.attempt(step) for _, step in shown}
    numbered = {(what, step, one.number if (one := attempts[step]) else 1) for what, step in shown}
    return sorted(numbered - known)


def note_served(
    ports: Ports, tx: Transaction, record: JobRecord, asker: Asker, shown: Iterable[tuple[str, str]]
) -> None:
    """Note (what, step) pairs that an answer shows, once for each attempt at the checkpoint."""
    now = stamp(ports.clock.now())
    for what, step, attempt in unnoted(tx, record, asker, set(shown)):
        row = ServedRow(
            asker.site_id,
            asker.person_id,
            asker.device_id,
            record.row.id,
            step,
            attempt,
            cast("ServedWhat", what),
            record.state.last_seq,
            now,
        )
        tx.listings.note_served(row)


def step_of(state: JobState, entry: Entry) -> str | None:
    """Return the step that an entry is about, by itself or by the item that it is about."""
    body = entry.body
    item = body.get("clip") or body.get("photo") or body.get("item")
    if isinstance(item, str) and item in state.items:
        body = state.items[item].entry.body
    step = body.get("step")
    return step if isinstance(step, str) else None
