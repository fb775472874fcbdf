"""Have a clip heard with what its step allows, and bring the hearing into the job."""

from collections.abc import Mapping
from typing import Any

from service.domain.incoming import HearingResult
from service.domain.job_state import JobState
from service.domain.procedure import stroke_need
from service.journal.digests import sha256_hex
from service.ports import Ports, WorkItem
from service.use_cases.job_record import JobRecord, advance, load_job, vocabulary_of

ALWAYS = ("control", "voltage_present", "isolation", "gear")
"""What may be said at any step, since it may restrict; beside it what the procedure's events listen for."""

AT_CHECKPOINT = ("contact", "take_photo", "photo_quality", "no_view")
"""What is said where contacts are judged."""

AT_STROKE = ("mark", "measure", "travel")
"""What is said where a stroke is marked: its moments, its time, the place where it begins."""


def hear_clip(ports: Ports, work: WorkItem) -> None:
    """Hear one clip. The result and the end of the work are kept in one transaction."""
    with ports.transactions.reading() as tx:
        record = load_job(ports, tx, work.site_id, work.job_id)
    clip = record.state.items[work.arguments["item"]].entry
    vocabulary = vocabulary_of(record.pinned.valve, record.pinned.chart)
    intents = intents_at(record.state, clip.body.get("step"))
    hearing = ports.hearing.hear(ports.media.get(clip.body["media"]), intents, vocabulary)
    keep_hearing(ports, work, hearing)


def intents_at(state: JobState, step_id: str | None) -> list[str]:
    """Return the intents that may be heard at a step: those it asks for, and those that may restrict."""
    procedure = state.pinned.procedure
    step = next((one for one in procedure.steps if one.id == step_id), state.current)
    events = {pattern.intent for event in procedure.events for pattern in event.when}
    asked = {need.pattern.intent for need in step.needs if need.pattern} if step else set()
    judged = set(AT_CHECKPOINT) if step and step.checkpoint else set()
    marked = set(AT_STROKE) if step and stroke_need(step) else set()
    return sorted(asked | judged | marked | events | set(ALWAYS))


def keep_hearing(ports: Ports, work: WorkItem, hearing: Mapping[str, Any]) -> None:
    """Bring a hearing into the job and finish the work."""
    said = hearing["verdict"] == "heard"
    sentence = ports.hearing.read_back(hearing["intent"], hearing["slots"]) if said else ""
    with ports.transactions.writing() as tx:
        record = load_job(ports, tx, work.site_id, work.job_id)
        stated = {**hearing, "hearer": ports.hearing.fingerprint(), "phrases": _phrases(ports, record)}
        result = HearingResult(clip=work.arguments["item"], hearing=stated, read_back=sentence)
        advance(ports, tx, record, result)
        tx.queue.finish(work)


def _phrases(ports: Ports, record: JobRecord) -> str:
    """Return the hash of the phrases listened for.

    Where it is not the pinned one, the ear has changed since.
    """
    return sha256_hex(ports.hearing.phrases(vocabulary_of(record.pinned.valve, record.pinned.chart)))


def hearing_failed(ports: Ports, work: WorkItem, why: str) -> None:
    """Record that the hearer failed for good: the clip counts as refused, never as heard."""
    reason = f"The hearer failed {work.attempts} times: {why}"
    keep_hearing(ports, work, {"verdict": "refused", "reason": reason, "text": ""})
