"""Show a job to a person: what is to do, what holds, and of each checkpoint what this person may be shown."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, TypeVar

from service.domain.entries import Entry
from service.domain.job import findings, waiting_read_backs
from service.domain.job_state import Attempt, ConditionState, JobState, PhotoRecord
from service.domain.procedure import Condition, Step
from service.journal.heads import read_head
from service.ports import Asker, JobRow, Ports, Transaction
from service.use_cases.job_record import JobRecord, load_job
from service.use_cases.show_strokes import advice_view, strokes_view
from service.use_cases.show_travel import travel_view
from service.use_cases.sights import SHOWN_BY, may_be_shown, note_served, sights_of, step_of, unnoted

CLOCK_TOLERANCE_S = 60.0
"""Beyond this a device's clock is said to be off; the journal keeps both clocks of every item in any case."""

WITHHELD = "withheld"
"""Stands for the kind of an entry that this person may not see yet."""

JUDGED = ("findings", "record")
"""Kinds of need whose status tells what was said and read."""

NO_STOP = "I cannot stop the valve. Keep a hand on a proved stop."
CAUTION = (
    "Local rules, the site permit and licensed practice come first. "
    "This record proves nothing dead and stops no valve."
)


Answer = TypeVar("Answer")


@dataclass
class View:
    """One answer while it is put together: what this person may see, and what has been shown so far."""

    record: JobRecord
    sights: frozenset[str]
    shown: set[tuple[str, str]] = field(default_factory=set)

    def may(self, what: str, step: str | None) -> bool:
        """Tell whether something of a step may be shown, and remember that it was."""
        if not may_be_shown(self.record, self.sights, what, step):
            return False
        if step in self.record.pinned.expected:
            self.shown.add((what, str(step)))
        return True


def list_jobs(ports: Ports, asker: Asker) -> list[JobRow]:
    """Return the jobs of the asker's site, the one that changed last first."""
    with ports.transactions.reading() as tx:
        return tx.listings.jobs(asker.site_id)


def serve(ports: Ports, asker: Asker, job_id: str, build: Callable[[Transaction, View], Answer]) -> Answer:
    """Build an answer from a job, and note what it shows of checkpoints before it leaves the house.

    Most answers show what this person was shown before; only one that shows something else needs to write, and is
    then built again within the transaction that notes it.
    """
    with ports.transactions.reading() as tx:
        view = view_of(ports, tx, asker, job_id)
        answer = build(tx, view)
        if not unnoted(tx, view.record, asker, view.shown):
            return answer
    with ports.transactions.writing() as tx:
        view = view_of(ports, tx, asker, job_id)
        answer = build(tx, view)
        note_served(ports, tx, view.record, asker, view.shown)
        return answer


def view_of(ports: Ports, tx: Transaction, asker: Asker, job_id: str) -> View:
    """Return an empty answer about a job, with what this person may see of it."""
    record = load_job(ports, tx, asker.site_id, job_id)
    return View(record, sights_of(tx, record, asker))


def show_job(ports: Ports, asker: Asker, job_id: str) -> dict[str, Any]:
    """Return a job as this person may see it."""
    return serve(ports, asker, job_id, _job)


def show_entries(ports: Ports, asker: Asker, job_id: str, after: int = -1) -> list[dict[str, Any]]:
    """Return the journal after an entry; of what this person may not see yet neither kind nor body is told."""

    def told(_tx: Transaction, view: View) -> list[dict[str, Any]]:
        return [_entry(view, entry) for entry in view.record.entries[after + 1 :]]

    return serve(ports, asker, job_id, told)


def _entry(view: View, entry: Entry) -> dict[str, Any]:
    what = SHOWN_BY.get(entry.kind)
    if what is None or view.may(what, step_of(view.record.state, entry)):
        return asdict(entry)
    return {**asdict(entry), "kind": WITHHELD, "body": None}


def _job(tx: Transaction, view: View) -> dict[str, Any]:
    record, state = view.record, view.record.state
    head = read_head(tx.journal.head(record.row.id).document)
    return {
        "job": record.row.id,
        "tag": record.pinned.valve.tag,
        "valve": record.pinned.valve.description,
        "status": record.row.status,
        "head": {"seq": head.seq, "hash": head.hash, "time": head.time},
        "caution": CAUTION,
        "pins": dict(record.pinned.pins),
        "people": [
            {"id": one.id, "name": one.name, "roles": sorted(one.roles)}
            for one in record.pinned.people.values()
        ],
        "steps": [_line(state, step) for step in record.pinned.procedure.steps],
        "open_steps": [show_step(view, step) for step in state.open_steps()],
        "holds": [asdict(hold) for hold in state.holds],
        "troubles": [
            asdict(trouble)
            for trouble in state.troubles
            if view.may("finding", _step_at(state, trouble.item))
        ],
        "clocks": _clocks(tx, state),
        "travel": travel_view(state),
        "strokes": strokes_view(state),
        "pending": {device: sorted(line.waiting) for device, line in state.devices.items() if line.waiting},
        "read_backs": _read_backs(view),
        "checkpoints": [_checkpoint(view, step) for step in record.pinned.expected],
        "being_worked_on": [_short(key) for key in tx.queue.open_keys(record.row.id)],
        "given_up": [{"what": _short(key), "why": why} for key, why in tx.queue.failures(record.row.id)],
    }


def _clocks(tx: Transaction, state: JobState) -> list[dict[str, Any]]:
    """Return the devices of a job whose clocks are off by more than a minute.

    What they made counts all the same.
    """
    devices = [tx.registers.device(identity) for identity in state.devices]
    return [
        {"device": one.id, "name": one.name, "clock_offset_s": one.clock_offset_s}
        for one in devices
        if one is not None and abs(one.clock_offset_s or 0.0) > CLOCK_TOLERANCE_S
    ]


def _line(state: JobState, step: Step) -> dict[str, Any]:
    known = state.step(step.id)
    released = known.released
    return {
        "id": step.id,
        "title": step.title,
        "hold_point": step.hold_point,
        "passed": known.passed is not None,
        "released": {"person": released.person, "mode": released.mode, "reason": released.reason}
        if released
        else None,
    }


def show_step(view: View, step: Step) -> dict[str, Any]:
    """Return a step that may be worked on.

    What to do, why, with which cautions, and what is still lacking.
    """
    state, at = view.record.state, step.checkpoint
    return {
        "id": step.id,
        "title": step.title,
        "say": step.say,
        "why": step.why,
        "gives_back": step.gives_back,
        "cautions": list(dict.fromkeys([*([NO_STOP] if step.under_power else []), *step.cautions])),
        "practice": list(step.practice),
        "hold_point": step.hold_point,
        "released_by": step.released_by,
        "checkpoint": {"travel": at.travel, "travel_pct": at.travel_pct, "direction": at.direction}
        if at
        else None,
        "judged": list(state.pinned.judged(step.id)),
        "needs": [_need(view, step, need) for need in step.needs],
        "advice": advice_view(state, step, view.may),
    }


def _need(view: View, step: Step, need: Condition) -> dict[str, Any]:
    """Return a need with its status; one that rests on findings counts as unmet to who may not see these yet."""
    known = view.record.state.condition(f"{step.id}/{need.id}")
    if need.kind in JUDGED and not view.may("finding", step.id):
        known = ConditionState()
    return {
        "id": need.id,
        "kind": need.kind,
        "says": need.says,
        "status": known.status,
        "because": known.because,
    }


def _read_backs(view: View) -> list[dict[str, Any]]:
    """Return what still waits for its read-back to be confirmed."""
    waiting = waiting_read_backs(view.record.state)
    return [
        {"item": claim.item, "step": claim.step, "person": claim.person, "say": claim.read_back}
        for claim in waiting
        if view.may("claim", claim.step)
    ]


def _checkpoint(view: View, step: str) -> dict[str, Any]:
    state = view.record.state
    attempts = state.attempts.get(step, ())
    return {
        "step": step,
        "expected": dict(view.record.pinned.expected[step]) if view.may("expected", step) else None,
        "attempts": [show_attempt(view, step, attempt) for attempt in attempts],
    }


def show_attempt(view: View, step: str, attempt: Attempt) -> dict[str, Any]:
    """Return one attempt at a checkpoint; null stands for what this person may not see yet.

    Why a photo was refused says nothing of any contact and is told at once, so that it can be taken again. Why single
    rotors in it were not read is told at once to who makes the claims.
    """
    state = view.record.state
    claims = {label: claim.state for label, claim in attempt.claims.items()}
    return {
        "number": attempt.number,
        "ended": attempt.ended if view.may("finding", step) else None,
        "claims": claims if view.may("claim", step) else None,
        "denied": dict(attempt.denied) if view.may("claim", step) else None,
        "photos": [
            _photo(view, step, state.photos[item]) for item in attempt.photos if view.may("photo", step)
        ],
        "findings": [asdict(one) for one in findings(state, step, attempt.number)]
        if view.may("finding", step)
        else None,
        "judgements": [asdict(one) for one in attempt.judgements] if view.may("judgement", step) else None,
    }


def _photo(view: View, step: str, photo: PhotoRecord) -> dict[str, Any]:
    read = view.may("reading", step)
    seq = photo.read_seq
    body: Mapping[str, Any] = {} if seq is None else view.record.entries[seq].body.get("reading", {})
    return {
        "item": photo.item,
        "media": photo.media,
        "of": photo.of,
        "late": photo.late,
        "read": seq is not None,
        "refused": photo.refused,
        "asks_upper_edge": _asks(body),
        "way_up": (body.get("registration") or {}).get("way_up") if read else None,
        "unread": _unread(view, body) if read or view.may("claim", step) else None,
        "contacts": dict(photo.contacts) if read and photo.contacts is not None else None,
        "annotated": body.get("annotated") if read else None,
    }


def _asks(reading: Mapping[str, Any]) -> str | None:
    """Return which edge of the switch is the upper one, where the reader could not tell which way up it was seen."""
    found = reading.get("registration") or {}
    return found["upper_edge"] if found.get("way_up") == "not told" else None


def _unread(view: View, reading: Mapping[str, Any]) -> list[str]:
    """Return why rotors that carry contacts were not read, in the reader's words: they say what to do better."""
    used = {rotor.id for rotor in view.record.pinned.chart.rotors}
    return [
        one["reason"]
        for one in reading.get("rotors") or ()
        if one["id"] in used and one["state"] == "unreadable" and one["reason"]
    ]


def _step_at(state: JobState, item: str) -> str | None:
    known = state.items.get(item)
    step = known.entry.body.get("step") if known else None
    return step if isinstance(step, str) else None


def _short(key: str) -> dict[str, str]:
    kind, _, rest = key.partition(":")
    return {"kind": kind, "item": rest.rpartition(":")[2]}
