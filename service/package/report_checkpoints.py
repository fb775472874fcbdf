"""Checkpoints as plain values for the report: the matrix, and every attempt with its photos."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from service.domain.evidence import findings
from service.domain.findings import Finding
from service.domain.job_state import Attempt, JobState, PhotoRecord
from service.package.packaged import PackagedJob
from service.package.report_clocks import to_the_second
from service.package.report_marks import contact_mark, verdict_rule
from service.package.report_values import Part, figure, mapping, step_part

AGAINST = ("impossible", "disputed", "off-chart")
DOUBTFUL = ("part-way", "unshown")


def matrix_part(state: JobState) -> Part:
    """Return contacts by checkpoints: the finding of the newest attempt with anything in it."""
    found = {step: _by_label(state, step) for step in state.pinned.expected}
    titles = {step: state.pinned.procedure.step(step).title for step in found}
    steps = [step for step in found if found[step]]
    rows = [
        {
            "label": contact.label,
            "use": contact.use,
            "cells": [found[step].get(contact.label) for step in steps],
        }
        for contact in state.pinned.chart.contacts
    ]
    return {
        "columns": [titles[step] for step in steps],
        "rows": rows,
        "not_reached": [titles[step] for step in found if not found[step]],
    }


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
        "release": step_part(job, state, definition),
    }


def _attempt(job: PackagedJob, state: JobState, step: str, attempt: Attempt) -> Part:
    return {
        "number": attempt.number,
        "ended": attempt.ended,
        "photos": [_photo(job, state.photos[item]) for item in attempt.photos],
        "findings": [_finding(finding) for finding in _worst_first(findings(state, step, attempt.number))],
        "on_the_way": _on_the_way(job, state, step, attempt),
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


def _on_the_way(job: PackagedJob, state: JobState, step: str, attempt: Attempt) -> list[str]:
    """Say which contacts were concluded otherwise before, in the order in which that was recorded."""
    last = {finding.label: finding.verdict for finding in findings(state, step, attempt.number)}
    return [
        f"Entry {entry.seq}: contact {entry.body.get('label')} was {entry.body.get('verdict')}."
        for entry in job.entries
        if entry.kind == "finding_made"
        and (entry.body.get("step"), entry.body.get("attempt")) == (step, attempt.number)
        and entry.body.get("verdict") in {*AGAINST, *DOUBTFUL}
        and entry.body.get("verdict") != last.get(str(entry.body.get("label")))
    ]


def _in_chart_order(state: JobState, seen: Mapping[str, str]) -> str:
    order = [contact.label for contact in state.pinned.chart.contacts]
    labels = [label for label in order if label in seen] + sorted(set(seen) - set(order))
    return ", ".join(f"{label} {seen[label].replace('_', ' ')}" for label in labels)


def _worst_first(found: Iterable[Finding]) -> list[Finding]:
    return sorted(found, key=lambda one: (one.verdict not in AGAINST, one.verdict not in DOUBTFUL))


def _photo(job: PackagedJob, photo: PhotoRecord) -> Part:
    taken = job.entries[photo.seq]
    read = {} if photo.read_seq is None else mapping(job.entries[photo.read_seq].body.get("reading"))
    return {
        "entry": photo.seq,
        "who": job.name(taken.person),
        "when": to_the_second(taken.device_time or taken.received),
        "source": taken.body.get("source"),
        "original": job.beside(photo.media),
        "sha256": photo.media,
        "drawn": job.beside(read.get("annotated")),
        "instead": _instead(photo),
        "late": photo.late,
        "reader": read.get("reader"),
        "bars": [_bar(mapping(bar)) for bar in read.get("bars") or []],
        "remarks": [*_told_by_tap(job.name(taken.person), read), *_rotor_remarks(read)],
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


def _instead(photo: PhotoRecord) -> str:
    """Say why there is no picture with what was measured."""
    if photo.of != "switch":
        return f"Framed on the {photo.of.replace('_', ' ')}: no contact is looked for in it."
    return f"Refused: {photo.refused}" if photo.refused else "Nothing was drawn on it."


def _told_by_tap(who: str, reading: Mapping[str, object]) -> Iterator[str]:
    if mapping(reading.get("registration")).get("way_up") == "tap":
        yield f"Which way up the switch is seen was told by a tap of {who}; the photo itself leaves it open."


def _rotor_remarks(reading: Mapping[str, Any]) -> Iterator[str]:
    """Yield why rotors were not read as closed or open, in the reader's words."""
    for rotor in map(mapping, reading.get("rotors") or []):
        if rotor.get("state") != "legal" and rotor.get("reason"):
            yield str(rotor["reason"])


def _bar(bar: Mapping[str, object]) -> str:
    name = f"{bar.get('rotor')} {bar.get('bar')}"
    angle, sigma = figure(bar.get("angle_deg"), 1), figure(bar.get("sigma_deg"), 1)
    if angle is None or sigma is None:
        return f"{name}: {bar.get('state')}"
    return f"{name}: {bar.get('state')}, {angle} \N{PLUS-MINUS SIGN} {sigma} degrees"
