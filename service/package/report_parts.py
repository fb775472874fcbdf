"""The parts of the report as plain values: matrix, checkpoints with every attempt, what was said."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from service.domain.entries import KINDS, Entry
from service.domain.evidence import findings
from service.domain.findings import Finding
from service.domain.job_state import Attempt, JobState, PhotoRecord
from service.domain.procedure import Step
from service.package.packaged import PackagedJob
from service.package.report_clocks import to_the_second
from service.package.report_marks import contact_mark, verdict_rule

Part = dict[str, Any]

AGAINST = ("impossible", "disputed", "off-chart")
DOUBTFUL = ("part-way", "unshown")

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
    return [_step(job, state, step) for step in state.pinned.procedure.steps]


def _step(job: PackagedJob, state: JobState, step: Step) -> Part:
    known = state.step(step.id)
    released = known.released
    passed = None if known.passed is None else to_the_second(job.entries[known.passed].received)
    return {
        "title": step.title,
        "hold_point": step.hold_point,
        "passed": passed,
        "by": job.name(released.person) if released else None,
        "mode": released.mode if released else None,
        "reason": released.reason if released else None,
        "waived": dict(released.waived) if released else {},
        "saw": job.entries[released.seq].body.get("head") if released else None,
    }


def matrix_part(state: JobState) -> Part:
    """Return contacts by checkpoints: the finding of the newest attempt with anything in it."""
    steps = list(state.pinned.expected)
    columns = [state.pinned.procedure.step(step).title for step in steps]
    found = {step: _by_label(state, step) for step in steps}
    rows = [
        {
            "label": contact.label,
            "use": contact.use,
            "cells": [found[step].get(contact.label) for step in steps],
        }
        for contact in state.pinned.chart.contacts
    ]
    return {"columns": columns, "rows": rows}


def _by_label(state: JobState, step: str) -> dict[str, Part]:
    newest = next((one for one in reversed(state.attempts.get(step, ())) if _used(one)), None)
    if newest is None:
        return {}
    return {finding.label: _finding(finding) for finding in findings(state, step, newest.number)}


def _used(attempt: Attempt) -> bool:
    return bool(attempt.photos or attempt.claims or attempt.denied or attempt.judgements)


def _finding(finding: Finding) -> Part:
    said = f"not {finding.denied}" if finding.denied else finding.claim
    return {
        "label": finding.label,
        "verdict": finding.verdict.replace("-", " "),
        "class": "against" if finding.verdict in AGAINST else "doubt" if finding.verdict in DOUBTFUL else "",
        "rule": verdict_rule(finding.verdict),
        "said": said,
        "said_mark": contact_mark("none" if finding.denied else finding.claim),
        "seen": finding.reading,
        "seen_mark": contact_mark(finding.reading),
        "chart": finding.expected,
        "chart_mark": contact_mark(finding.expected),
        "p": None if finding.bar_position_as_shown is None else f"{finding.bar_position_as_shown:.3f}",
        "reasons": " ".join(finding.reasons),
    }


def checkpoints_part(job: PackagedJob, state: JobState) -> list[Part]:
    """Return every checkpoint with all of its attempts, in the order in which they were made."""
    return [_checkpoint(job, state, step) for step in state.pinned.expected if state.attempts.get(step)]


def _checkpoint(job: PackagedJob, state: JobState, step: str) -> Part:
    definition = state.pinned.procedure.step(step)
    attempts = [attempt for attempt in state.attempts[step] if _used(attempt)]
    where = definition.checkpoint
    towards = {"open": "reached opening", "closed": "reached closing"}
    return {
        "title": definition.title,
        "travel": where.travel if where else "",
        "travel_pct": where.travel_pct if where else None,
        "direction": towards.get(str(where.direction), "reached in either direction") if where else "",
        "count": len(attempts),
        "attempts": [_attempt(job, state, step, attempt) for attempt in attempts],
        "release": _step(job, state, definition),
    }


def _attempt(job: PackagedJob, state: JobState, step: str, attempt: Attempt) -> Part:
    return {
        "number": attempt.number,
        "ended": attempt.ended,
        "photos": [_photo(job, state.photos[item]) for item in attempt.photos],
        "findings": [_finding(finding) for finding in _worst_first(findings(state, step, attempt.number))],
        "judgements": [
            {
                "who": job.name(judgement.person),
                "mode": judgement.mode,
                "blind": judgement.blind,
                "tag": judgement.tag,
                "seen": _in_chart_order(state, judgement.seen),
                "opinion": str(judgement.opinion or "no answer yet").replace("_", " "),
                "faults": "; ".join(judgement.faults),
            }
            for judgement in attempt.judgements
        ],
    }


def _in_chart_order(state: JobState, seen: Mapping[str, str]) -> str:
    order = [contact.label for contact in state.pinned.chart.contacts]
    labels = [label for label in order if label in seen] + sorted(set(seen) - set(order))
    return ", ".join(f"{label} {seen[label].replace('_', ' ')}" for label in labels)


def _worst_first(found: Iterable[Finding]) -> list[Finding]:
    return sorted(found, key=lambda one: (one.verdict not in AGAINST, one.verdict not in DOUBTFUL))


def _photo(job: PackagedJob, photo: PhotoRecord) -> Part:
    taken = job.entries[photo.seq]
    read = {} if photo.read_seq is None else job.entries[photo.read_seq].body.get("reading") or {}
    return {
        "entry": photo.seq,
        "who": job.name(taken.person),
        "when": to_the_second(taken.device_time or taken.received),
        "source": taken.body.get("source"),
        "original": job.beside(photo.media),
        "sha256": photo.media,
        "drawn": job.beside(read.get("annotated")),
        "refused": photo.refused,
        "late": photo.late,
        "reader": read.get("reader"),
        "bars": [_bar(bar) for bar in read.get("bars") or []],
    }


def other_photos_part(job: PackagedJob, state: JobState) -> list[Part]:
    """Return the photos of no attempt at a checkpoint: of the tag, of other steps, or out of turn."""
    shown = {item for attempts in state.attempts.values() for attempt in attempts for item in attempt.photos}
    titles = {step.id: step.title for step in state.pinned.procedure.steps}
    return [
        {**_photo(job, photo), "step": titles.get(photo.step or "", photo.step or "no step"), "of": photo.of}
        for photo in state.photos.values()
        if photo.item not in shown
    ]


def _bar(bar: Mapping[str, Any]) -> str:
    name = f"{bar.get('rotor')} {bar.get('bar')}"
    if bar.get("angle_deg") is None or bar.get("sigma_deg") is None:
        return f"{name}: {bar.get('state')}"
    return (
        f"{name}: {bar['state']}, {bar['angle_deg']:.1f} \N{PLUS-MINUS SIGN} {bar['sigma_deg']:.1f} degrees"
    )


def said_part(job: PackagedJob) -> list[Part]:
    """Return every clip and every typed statement in the order in which it came, with what became of it."""
    heard = {entry.body.get("clip"): entry for entry in job.entries if entry.kind == "clip_heard"}
    return [
        _said(job, entry, heard.get(entry.id))
        for entry in job.entries
        if entry.kind in {"clip_taken_in", "statement_made"}
    ]


def _said(job: PackagedJob, entry: Entry, heard: Entry | None) -> Part:
    hearing = (heard.body.get("hearing") if heard else None) or {}
    claim = job.state.claims.get(entry.id) if job.state else None
    words = hearing.get("text") or str(hearing.get("intent") or "")
    if entry.kind == "statement_made":
        words = _typed(entry.body)
    elif hearing.get("verdict") != "heard":
        words = f"refused: {hearing.get('reason')}" if hearing.get("reason") else "not heard"
    confidence = hearing.get("confidence")
    return {
        "entry": entry.seq,
        "who": job.name(entry.person),
        "words": words,
        "typed": entry.kind == "statement_made",
        "confidence": None if confidence is None else f"{confidence:.2f}",
        "read_back": claim.read_back if claim else None,
        "became": CLAIM_WORDS.get(claim.status, claim.status) if claim else "",
        "clip": job.beside(entry.body.get("media")),
    }


def _typed(body: Mapping[str, Any]) -> str:
    slots = ", ".join(f"{name} {_plain(value)}" for name, value in (body.get("slots") or {}).items())
    return (
        f"{str(body.get('intent', '')).replace('_', ' ')}: {slots}" if slots else str(body.get("intent", ""))
    )


def _plain(value: object) -> str:
    return (
        ", ".join(str(one) for one in value)
        if isinstance(value, (list, tuple))
        else str(value).replace("_", " ")
    )


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


def entries_part(job: PackagedJob) -> list[Part]:
    """Return every entry of the journal as one line."""
    return [
        {
            "seq": entry.seq,
            "says": KINDS[entry.kind].says
            if entry.kind in KINDS
            else f"{entry.kind} (not known to this program)",
            "who": job.name(entry.person) if entry.person else "",
            "made": to_the_second(entry.device_time),
            "came": to_the_second(entry.received),
            "hash": entry.hash[:12],
            "effect": job.state.effects.get(entry.seq, "") if job.state else "",
            "redacted": entry.body.get("redacted") is True,
        }
        for entry in job.entries
    ]
