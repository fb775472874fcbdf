"""Bring an example job to its first photo step by typed statements, as a technician would.

So that it can be tried.

Every statement is an ordinary item of an enrolled device and is confirmed by its read-back; nothing is
skipped. The note that opens the example says that its values are invented.
"""

from collections.abc import Mapping
from typing import Any

from service.domain.incoming import Note, Release, Typed
from service.domain.job import lacking
from service.domain.procedure import Condition, Step
from service.ports import Asker, Ports
from service.use_cases.act import act
from service.use_cases.job_record import JobRecord, load_job
from service.use_cases.take_in import take_in

MOST_STEPS = 60
INVENTED = "This is an example: every value up to the first photo step is invented."


def play_to_first_photo(ports: Ports, asker: Asker, job_id: str) -> JobRecord:
    """Answer the open steps until one judges contacts; returns the job as it stands there."""
    record = act(ports, asker, job_id, Note(person=asker.person_id, text=INVENTED))
    for _ in range(MOST_STEPS):
        step = record.state.current
        if step is None or step.checkpoint is not None or any(need.kind == "photo" for need in step.needs):
            break
        record = _answer(ports, asker, job_id, step)
    return record


def _answer(ports: Ports, asker: Asker, job_id: str, step: Step) -> JobRecord:
    for need in step.needs:
        with ports.transactions.reading() as tx:
            state = load_job(ports, tx, asker.site_id, job_id).state
        if f"{step.id}/{need.id}" in lacking(state, step) and need.pattern is not None:
            said = _say(ports, asker, job_id, step, need.pattern.intent, slots_that_meet(need))
            _say(ports, asker, job_id, step, "control", {"action": "read_back_right"}, answers=said)
    with ports.transactions.reading() as tx:
        record = load_job(ports, tx, asker.site_id, job_id)
    if step.hold_point and record.state.is_open(step.id):
        head = record.entries[-1].hash
        release = Release(person=asker.person_id, step=step.id, head=head, fresh_sign_in=True)
        record = act(ports, asker, job_id, release)
    return record


def slots_that_meet(need: Condition) -> Mapping[str, Any]:
    """Return slots with which a statement meets a condition: its pattern, and a value inside its limits."""
    slots = dict(need.pattern.slots) if need.pattern else {}
    limits = need.limits
    if limits is None:
        return slots
    low = limits.minimum if limits.minimum is not None else 0.0
    value = low if limits.maximum is None else min(low, limits.maximum)
    until = {"until": "2099-12-31"} if limits.expires else {}
    return {**slots, "value": value, **({"unit": limits.unit} if limits.unit else {}), **until}


def _say(  # noqa: PLR0913 - one private call with everything a statement is made of
    ports: Ports,
    asker: Asker,
    job_id: str,
    step: Step,
    intent: str,
    slots: Mapping[str, Any],
    answers: str | None = None,
) -> str:
    with ports.transactions.reading() as tx:
        state = load_job(ports, tx, asker.site_id, job_id).state
    line = state.devices.get(asker.device_id or "")
    item = Typed(
        id=ports.new_id(),
        person=asker.person_id,
        device=asker.device_id or "",
        device_seq=(line.done if line else 0) + 1,
        device_time=ports.clock.now().isoformat(),
        step=step.id,
        known_seq=state.last_seq,
        intent=intent,
        slots=slots,
        read_back=ports.hearing.read_back(intent, slots),
        answers=answers,
    )
    take_in(ports, asker, job_id, item)
    return item.id
