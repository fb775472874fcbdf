"""Show what a job's chart and layout say for themselves: nothing of any checkpoint, so it primes nobody."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from service.domain.chart import ContactChart
from service.domain.procedure import Condition, Step
from service.ports import Asker, Ports
from service.use_cases.job_record import LAYOUT, JobRecord, load_job
from service.use_cases.sights import sights_of


@dataclass(frozen=True)
class Drawing:
    """The chart, the layout as it was pinned (mm and degrees), and the asker's roles in the job.

    `open_steps` may be worked on now; `needs` says each condition in words; `judged_by` names for each step
    the checkpoints whose judgement it asks for, each with its stated travel and whether its condition is met;
    `places` names each step, a checkpoint by its stated travel alone, since a title may say how its rotors
    must lie.
    """

    chart: ContactChart
    layout: Mapping[str, Any]
    roles: frozenset[str]
    open_steps: frozenset[str]
    judged_by: Mapping[str, tuple[tuple[str, str, bool], ...]]
    places: Mapping[str, str]
    needs: Mapping[str, str]


def show_drawing(ports: Ports, asker: Asker, job_id: str) -> Drawing:
    """Return chart and layout; raises NotFound, and NotAllowed for who may not see the job."""
    with ports.transactions.reading() as tx:
        record = load_job(ports, tx, asker.site_id, job_id)
        sights_of(tx, record, asker)
    known = record.pinned.people.get(asker.person_id)
    layout = json.loads(ports.media.get(record.pinned.pins[LAYOUT]))
    return Drawing(
        chart=record.pinned.chart,
        layout=layout,
        roles=frozenset(known.roles) if known else frozenset(),
        open_steps=frozenset(step.id for step in record.state.open_steps()),
        judged_by={step.id: tuple(_judged_by(record, step)) for step in record.pinned.procedure.steps},
        places={
            step.id: step.checkpoint.travel if step.checkpoint else step.title
            for step in record.pinned.procedure.steps
        },
        needs={
            f"{step.id}/{need.id}": _in_words(record, need)
            for step, need in record.pinned.procedure.conditions()
        },
    )


def _in_words(record: JobRecord, need: Condition) -> str:
    """Return what is needed; of another checkpoint's findings or judgement only the place, not how rotors lie."""
    there = record.pinned.procedure.step(need.checkpoint).checkpoint if need.checkpoint else None
    if there is None:
        return need.says
    wanted = {"findings": "every judged contact agreed", "judgement": "a blind judgement"}
    return f"{wanted.get(need.kind, need.says)}: {there.travel}"


def _judged_by(record: JobRecord, step: Step) -> Iterator[tuple[str, str, bool]]:
    for need in step.needs:
        if need.kind != "judgement" or need.checkpoint in {None, step.id}:
            continue
        there = record.pinned.procedure.step(str(need.checkpoint)).checkpoint
        met = record.state.condition(f"{step.id}/{need.id}").status == "met"
        yield str(need.checkpoint), there.travel if there else str(need.checkpoint), met
