"""The desk of the second person: what waits, and a checkpoint as it may be seen before it was judged.

Before the judgement there is the tag, the chart's drawing by its hash, the stated travel and direction, and
the photos; no claim, no state computed for the checkpoint, no reading. After it everything stands side by
side.
"""

from typing import Any

from service.domain.job import blindness
from service.domain.procedure import Step
from service.domain.refusals import NotFound
from service.journal.heads import read_head
from service.ports import Asker, Ports, Transaction
from service.use_cases.job_record import CHART, LAYOUT, JobRecord, load_job
from service.use_cases.show_job import CAUTION, View, serve, show_attempt, show_step
from service.use_cases.sights import servings


def show_desk(ports: Ports, asker: Asker) -> list[dict[str, Any]]:
    """Return what waits for this person.

    Open checkpoints and hold points of the jobs in which they verify.
    """
    with ports.transactions.reading() as tx:
        rows = [row for row in tx.listings.jobs(asker.site_id) if row.status != "closed"]
        records = [load_job(ports, tx, asker.site_id, row.id) for row in rows]
    return [
        _waiting(record, step)
        for record in records
        if _verifies(record, asker)
        for step in record.state.open_steps()
        if step.checkpoint is not None or step.hold_point
    ]


def show_checkpoint(ports: Ports, asker: Asker, job_id: str, step_id: str) -> dict[str, Any]:
    """Return one step for the second person."""
    return serve(ports, asker, job_id, lambda tx, view: _checkpoint(tx, view, asker, step_id))


def _verifies(record: JobRecord, asker: Asker) -> bool:
    known = record.pinned.people.get(asker.person_id)
    return known is not None and "verifier" in known.roles


def _waiting(record: JobRecord, step: Step) -> dict[str, Any]:
    attempt = record.state.attempt(step.id)
    return {
        "job": record.row.id,
        "tag": record.pinned.valve.tag,
        "step": step.id,
        "title": step.title,
        "hold_point": step.hold_point,
        "attempt": attempt.number if attempt else 0,
        "photos": len(attempt.photos) if attempt else 0,
        "stopped": record.state.stopped,
        "changed": record.row.changed,
    }


def _checkpoint(tx: Transaction, view: View, asker: Asker, step_id: str) -> dict[str, Any]:
    record, state = view.record, view.record.state
    step = next((one for one in record.pinned.procedure.steps if one.id == step_id), None)
    if step is None:
        raise NotFound(f"The procedure has no step {step_id}.", field="step")
    head = read_head(tx.journal.head(record.row.id).document)
    seen = blindness(state, step.id, asker.person_id, servings(tx, record, asker))
    detail = show_step(view, step)
    at_checkpoint = step.checkpoint is not None
    if at_checkpoint:
        view.may("travel", step.id)
    return {
        **_waiting(record, step),
        "caution": CAUTION,
        "head": {"seq": head.seq, "hash": head.hash, "time": head.time},
        "chart": record.pinned.pins[CHART],
        "layout": record.pinned.pins[LAYOUT],
        "detail": detail,
        "lacking": [f"{step.id}/{need['id']}" for need in detail["needs"] if need["status"] != "met"],
        "blind": seen.blind if at_checkpoint else None,
        "attempts": [show_attempt(view, step.id, attempt) for attempt in state.attempts.get(step.id, ())],
        "expected": dict(record.pinned.expected[step.id])
        if at_checkpoint and view.may("expected", step.id)
        else None,
    }
