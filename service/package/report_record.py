"""The record as plain values for the report: steps, people, what was said, every entry."""

from collections.abc import Iterator, Mapping
from typing import Any

from service.domain.entries import KINDS, Entry
from service.domain.job_state import JobState
from service.package.packaged import PackagedJob
from service.package.report_clocks import to_the_second
from service.package.report_values import Part, figure, mapping, plain, step_part

CLAIM_WORDS = {
    "pending": "read back, never confirmed",
    "confirmed": "confirmed after read-back",
    "acted": "acted on at once",
    "withdrawn": "withdrawn",
    "superseded": "replaced by a later one",
    "without_effect": "without effect",
}


def steps_part(job: PackagedJob, state: JobState) -> list[Part]:
    """Return every step with when it passed and who released it."""
    return [step_part(job, state, step) for step in state.pinned.procedure.steps]


def people_part(job: PackagedJob, state: JobState) -> Iterator[Part]:
    """Yield everybody named in the job, with the part taken in it."""
    for person in state.pinned.people.values():
        made = sum(1 for entry in job.entries if entry.person == person.id and entry.device is not None)
        parts = [f"made {made} items" if made != 1 else "made 1 item"] if made else []
        parts += ["judged"] if person.id in state.judged else []
        released = [
            state.pinned.procedure.step(step).title
            for step, known in state.steps.items()
            if known.released and known.released.person == person.id
        ]
        parts += [f"released {', '.join(released)}"] if released else []
        yield {
            "name": person.name,
            "roles": ", ".join(sorted(person.roles)),
            "part": "; ".join(parts) or "took no part",
        }


def said_part(job: PackagedJob) -> list[Part]:
    """Return every clip and every typed statement in the order in which it came, with what became of it."""
    heard = {str(entry.body.get("clip")): entry for entry in job.entries if entry.kind == "clip_heard"}
    return [
        _said(job, entry, heard.get(entry.id))
        for entry in job.entries
        if entry.kind in {"clip_taken_in", "statement_made"}
    ]


def _said(job: PackagedJob, entry: Entry, heard: Entry | None) -> Part:
    hearing = mapping(heard.body.get("hearing") if heard else None)
    claim = job.state.claims.get(entry.id) if job.state else None
    words = hearing.get("text") or str(hearing.get("intent") or "")
    if entry.kind == "statement_made":
        words = _typed(entry.body)
    elif hearing.get("verdict") != "heard":
        words = f"refused: {hearing.get('reason')}" if hearing.get("reason") else "not heard"
    return {
        "entry": entry.seq,
        "who": job.name(entry.person),
        "words": words,
        "typed": entry.kind == "statement_made",
        "confidence": figure(hearing.get("confidence"), 2),
        "read_back": claim.read_back if claim else None,
        "became": CLAIM_WORDS.get(claim.status, claim.status) if claim else "",
        "clip": job.beside(entry.body.get("media")),
    }


def _typed(body: Mapping[str, Any]) -> str:
    slots = ", ".join(f"{name} {plain(value)}" for name, value in mapping(body.get("slots")).items())
    intent = plain(body.get("intent", ""))
    return f"{intent}: {slots}" if slots else intent


def entries_part(job: PackagedJob) -> list[Part]:
    """Return every entry of the journal as one line."""
    return [
        {
            "seq": entry.seq,
            "says": KINDS[entry.kind].says
            if entry.kind in KINDS
            else f"{entry.kind} (not known to this program)",
            "detail": _detail(job, entry),
            "who": job.name(entry.person) if entry.person else "",
            "made": to_the_second(entry.device_time),
            "came": to_the_second(entry.received),
            "hash": entry.hash[:12],
            "effect": job.state.effects.get(entry.seq, "") if job.state else "",
            "redacted": entry.body.get("redacted") is True,
        }
        for entry in job.entries
    ]


def _detail(job: PackagedJob, entry: Entry) -> str:
    """Say in a few words what an entry holds, where that is not said elsewhere in its line."""
    body = entry.body
    if entry.kind == "clip_heard":
        hearing = mapping(body.get("hearing"))
        return str(hearing.get("text") if hearing.get("verdict") == "heard" else hearing.get("reason") or "")
    if entry.kind == "statement_made":
        return _typed(body)
    if entry.kind == "finding_made":
        return f"{_title(job, body.get('step'))}, contact {body.get('label')}: {body.get('verdict')}"
    if entry.kind == "photo_read":
        return str(mapping(body.get("reading")).get("verdict") or "")
    if entry.kind in {
        "step_passed",
        "hold_point_released",
        "judgement_given",
        "photo_taken_in",
        "clip_taken_in",
    }:
        return _title(job, body.get("step"))
    return str(body.get("reason") or body.get("text") or "")


def _title(job: PackagedJob, step: object) -> str:
    places = job.state.pinned.procedure.places if job.state else {}
    if job.state is None or step not in places:
        return "" if step is None else str(step)
    return job.state.pinned.procedure.step(str(step)).title
