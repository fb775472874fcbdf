"""Everything that a report says, as plain JSON values: page and print are made from the same facts."""

from dataclasses import asdict
from typing import Any

from service.domain.job_state import JobState
from service.package.packaged import PackagedJob
from service.package.report_checkpoints import checkpoints_part, matrix_part, other_photos_part
from service.package.report_clocks import device_clocks, in_words, time_line
from service.package.report_doubts import open_doubts
from service.package.report_marks import contact_mark, ladder
from service.package.report_record import entries_part, people_part, said_part, steps_part
from service.package.report_strokes import strokes_part, turns_part

CAUTIONS = (
    "Local rules, the site permit and licensed practice come first.",
    "This record says who proved what, and how. It does not say that equipment is dead, safe, or set right.",
    "Treat equipment as live until a competent person has proved it dead with a proved tester.",
    (
        "A photo shows bar positions. It cannot show travel, engagement of the setting gear, or that a "
        "terminal belongs to a bar."
    ),
    "This record holds no motor and stops no valve.",
)


MARKED = ("closed", "open", "either", "between", "none")


def report_facts(job: PackagedJob) -> dict[str, Any]:
    """Return what the report says; `whole` is None where the state of the job could not be rebuilt."""
    return {
        "job": job.head.job,
        "head": {"seq": job.head.seq, "hash": job.head.hash, "time": job.head.time},
        "fingerprint": job.fingerprint,
        "versions": {name: version for name, version in sorted(job.versions.items()) if version},
        "doubts": open_doubts(job),
        "cautions": list(CAUTIONS),
        "said": said_part(job),
        "entries": entries_part(job),
        "time_line": time_line(job.entries),
        "clocks": [[clock.device, _clock_words(clock.offset_s)] for clock in device_clocks(job.entries)],
        "marks": [[state, contact_mark(state)] for state in MARKED],
        "whole": _whole(job, job.state) if job.state else None,
    }


def _clock_words(offset_s: float) -> str:
    return f"{in_words(offset_s)} {'ahead of' if offset_s > 0 else 'behind'} the service's clock"


def _whole(job: PackagedJob, state: JobState) -> dict[str, Any]:
    """Return the parts that need the state of the job."""
    pinned = state.pinned
    checkpoints = [
        (step.title, step.checkpoint.travel_pct) for step in pinned.procedure.steps if step.checkpoint
    ]
    own = [caution for step in pinned.procedure.steps for caution in step.cautions]
    return {
        "tag": pinned.valve.tag,
        "valve": pinned.valve.description,
        "procedure": f"{pinned.procedure.title}, version {pinned.procedure.version}",
        "status": _status(state),
        "done": _done(job, state),
        "people": list(people_part(job, state)),
        "steps": steps_part(job, state),
        "matrix": matrix_part(state),
        "checkpoints": checkpoints_part(job, state),
        "other_photos": other_photos_part(job, state),
        "strokes": strokes_part(job, state),
        "turns": turns_part(state),
        "chart": [asdict(contact) for contact in pinned.chart.contacts],
        "ladder": ladder(pinned.chart, checkpoints),
        "pins": [[name, digest] for name, digest in sorted(pinned.pins.items())],
        "cautions": list(dict.fromkeys(own)),
    }


def _status(state: JobState) -> str:
    if state.stopped:
        return "Work is stopped."
    return (
        "Handed back."
        if state.closed
        else f'Open, at "{state.current.title if state.current else "no step"}".'
    )


def _done(job: PackagedJob, state: JobState) -> list[str]:
    """Say what was done: each step that passed, and each release with its giver."""
    passed = [
        f'"{step.title}"' for step in state.pinned.procedure.steps if state.step(step.id).passed is not None
    ]
    sentences = [f"Passed: {', '.join(passed)}." if passed else "No step has passed."]
    for step in state.pinned.procedure.steps:
        released = state.step(step.id).released
        if released:
            how = " after a blind judgement" if step.independent and released.mode == "independent" else ""
            sentences.append(f'"{step.title}" was released by {job.name(released.person)}{how}.')
    return sentences
