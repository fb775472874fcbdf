"""Show the technician's page what it asks next: what each answer must say, and what was heard.

Everything shown of checkpoints comes from `show_job`, which notes what it serves; what is added here is the
person's own: clips of this device, and why an own statement did not count.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.domain.chart import ContactChart
from service.domain.job_state import ClaimRecord, ItemRecord, JobState
from service.domain.needs import meets, why_outside
from service.domain.procedure import Condition, Step
from service.domain.statements import same_subject
from service.ports import Asker, Ports
from service.use_cases.job_record import JobRecord, load_job
from service.use_cases.show_job import show_job
from service.use_cases.take_in import next_number


@dataclass(frozen=True)
class Heard:
    """What became of the newest clip of this device: the words or the refusal, and the effect in words.

    `confidence` is the hearer's own, 0 to 1; None where it gave none. `text` and `reason` are empty while the
    clip is still being heard.
    """

    item: str
    text: str
    refused: bool
    reason: str
    confidence: float | None
    effect: str


@dataclass(frozen=True)
class Capture:
    """A job as the technician's page needs it.

    `job` is the answer of `show_job`; `steps` are the open steps as the domain knows them; `tallies` holds
    values counted so far by condition; `missed` says by condition why the newest confirmed statement on it
    did not meet it; `photos` are the photos of steps that judge no contact; `next_seq` is the least sequence
    number that this device may give to its next item.
    """

    job: Mapping[str, Any]
    steps: tuple[Step, ...]
    chart: ContactChart
    closing: str
    heard: Heard | None
    next_seq: int
    tallies: Mapping[str, Any]
    missed: Mapping[str, str]
    photos: Mapping[str, tuple[Mapping[str, Any], ...]]


def show_capture(ports: Ports, asker: Asker, job_id: str) -> Capture:
    """Return a job for the technician's page; raises NotFound, NotAllowed."""
    job = show_job(ports, asker, job_id)
    with ports.transactions.reading() as tx:
        record = load_job(ports, tx, asker.site_id, job_id)
    state, steps = record.state, record.state.open_steps()
    needs = [(f"{step.id}/{need.id}", step, need) for step in steps for need in step.needs]
    return Capture(
        job=job,
        steps=steps,
        chart=record.pinned.chart,
        closing=record.pinned.procedure.closing,
        heard=_heard(record, asker),
        next_seq=next_number(state, asker.device_id),
        tallies={
            name: state.condition(name).value
            for name, _, _ in needs
            if state.condition(name).because == "tally"
        },
        missed={
            name: why
            for name, step, need in needs
            if (why := _why_missed(state, asker.person_id, step, need))
        },
        photos={step.id: _photos(state, step) for step in steps if step.checkpoint is None},
    )


def _heard(record: JobRecord, asker: Asker) -> Heard | None:
    """Return the newest clip of this person on this device, unless something was typed after it."""
    mine = [
        item
        for item in record.state.items.values()
        if (item.entry.person, item.entry.device) == (asker.person_id, asker.device_id)
        and item.entry.kind in {"clip_taken_in", "statement_made"}
    ]
    newest = max(mine, key=lambda item: item.entry.seq, default=None)
    return _clip(record, newest) if newest is not None and newest.entry.kind == "clip_taken_in" else None


def _clip(record: JobRecord, item: ItemRecord) -> Heard:
    results = (one for one in reversed(record.entries) if one.kind == "clip_heard")
    result = next((one for one in results if one.body.get("clip") == item.entry.id), None)
    hearing: Mapping[str, Any] = result.body.get("hearing", {}) if result else {}
    confidence = hearing.get("confidence")
    return Heard(
        item=item.entry.id,
        text=str(hearing.get("text") or ""),
        refused=result is not None and hearing.get("verdict") != "heard",
        reason=str(hearing.get("reason") or ""),
        confidence=float(confidence) if isinstance(confidence, (int, float)) else None,
        effect=record.state.effects.get(item.entry.seq, ""),
    )


def _why_missed(state: JobState, person: str, step: Step, need: Condition) -> str | None:
    """Return why the newest confirmed statement of this person on a condition did not meet it, in words."""
    pattern = need.pattern
    if pattern is None or state.condition(f"{step.id}/{need.id}").status == "met":
        return None
    said = [one for one in state.claims.values() if _counts(one, person, step.id)]
    on_it = [one for one in said if same_subject(pattern, one.statement)]
    if not on_it or meets(need, on_it[-1].statement):
        return None
    outside = why_outside(need, on_it[-1].statement)
    return f"You said “{on_it[-1].read_back}”" + (
        f": {outside}." if outside else ", which is something else."
    )


def _counts(claim: ClaimRecord, person: str, step: str) -> bool:
    return claim.person == person and claim.step == step and claim.status == "confirmed"


def _photos(state: JobState, step: Step) -> tuple[Mapping[str, Any], ...]:
    return tuple(
        {
            "item": one.item,
            "media": one.media,
            "of": one.of,
            "late": one.late,
            "read": one.read_seq is not None,
            "refused": one.refused,
        }
        for one in state.photos.values()
        if one.step == step.id
    )
