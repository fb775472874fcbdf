"""An invented job and a rig that plays it: what comes in is decided, sealed with a stand-in hash and applied."""

import copy
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

from service.definitions.procedure import load_procedure, shipped_procedure
from service.domain.chart import ContactChart, Rotor
from service.domain.evidence import findings
from service.domain.expansion import pin_job
from service.domain.incoming import (
    Clip,
    HearingResult,
    Judgement,
    Opinion,
    Photo,
    ReadingResult,
    Release,
    Typed,
)
from service.domain.job import apply, decide, open_job
from service.domain.job_state import JobState
from service.domain.people import Person
from service.domain.pinned import PinnedJob, Valve
from service.domain.refusals import Refusal
from tests.service.domain.charts import contact, switch

TAG = "RW204"
PEOPLE = {
    "tess": Person("tess", "Tess Arlow", frozenset({"technician"})),
    "omar": Person("omar", "Omar Quill", frozenset({"technician", "verifier"})),
    "vera": Person("vera", "Vera Stroud", frozenset({"verifier"})),
    "enid": Person("enid", "Enid Marsh", frozenset({"engineer"})),
}
START = datetime(2031, 5, 6, 7, 0, tzinfo=UTC)


def chart(**changes) -> ContactChart:
    """Two end rotors and an auxiliary one; a heater and a signal are fed from elsewhere."""
    layout = switch(3)
    arguments = {
        "valve": TAG,
        "layout": layout,
        "rotors": (
            Rotor("R1", "closed", 2.0, 1.0, "closed_end"),
            Rotor("R2", "open", 97.0, 1.0, "open_end"),
            Rotor("R3", "open", 50.0, 2.0, "auxiliary"),
        ),
        "contacts": (
            contact(layout, "9", "R1-lower-1", "breaks", "stops_closing", use="closing coil"),
            contact(layout, "3B", "R1-lower-2", "breaks", "lamp", use="open lamp"),
            contact(layout, "17", "R1-upper-1", "makes", "remote", use="closed signal"),
            contact(layout, "12", "R2-lower-1", "breaks", "stops_opening", use="opening coil"),
            contact(layout, "6B", "R2-upper-1", "makes", "remote", use="open signal"),
            contact(layout, "21", "R3-lower-1", "breaks", "heater", use="heater supply"),
        ),
    }
    return ContactChart(**{**arguments, **changes})


@cache
def shipped(name: str):
    return load_procedure(shipped_procedure(name))


def pinned(procedure: str = "one_checkpoint", **changes) -> PinnedJob:
    """The job as pinned, its procedure one of those that ship."""
    seats = shipped(procedure).seats
    arguments = {
        "job": "job-1",
        "site": "site-1",
        "valve": Valve(TAG, sources=("power", "control_supply"), flameproof=True),
        "chart": replace(chart(), closed_end=seats["closed"], open_end=seats["open"]),
        "procedure": shipped(procedure),
        "people": PEOPLE,
        "pins": {"chart": "0" * 64},
    }
    return pin_job(**{**arguments, **changes})


class Rig:
    """Plays a job: keeps state and entries, counts each device's items, moves the time on by a second an entry."""

    def __init__(self, job: PinnedJob | None = None) -> None:
        self.state = JobState(job or pinned())
        self.entries = []
        self.counts: dict[str, int] = {}
        self.made = 0
        self.now = START
        self._append([open_job(self.state.pinned, "enid")])

    def _append(self, plan) -> None:
        for new in plan:
            entry = new.sealed(self.state.last_seq + 1, self.stamp(), f"hash {self.state.last_seq + 1}")
            self.entries.append(entry)
            self.state = apply(self.state, entry)
            self.now += timedelta(seconds=1)

    def twin(self) -> "Rig":
        """A rig that stands where this one stands and goes its own way."""
        other = copy.copy(self)
        other.entries, other.counts = list(self.entries), dict(self.counts)
        return other

    def stamp(self) -> str:
        return self.now.isoformat().replace("+00:00", "Z")

    def do(self, thing):
        """Decide and append; returns the new entries."""
        plan = decide(self.state, thing, self.stamp())
        self._append(plan)
        return plan

    def tries(self, thing) -> Refusal | None:
        """Decide and append; returns the refusal, if it was refused."""
        try:
            self.do(thing)
        except Refusal as refusal:
            return refusal
        return None

    def origin(self, step=None, person="tess", device=None, **more) -> dict:
        """The next origin of that person's phone; `gap` leaves numbers out, `known_seq` says what it knew."""
        device = device or f"phone of {person}"
        number = self.counts.get(device, 0) + 1 + more.pop("gap", 0)
        self.counts[device] = number
        self.made += 1
        current = self.state.current
        return {
            "id": f"item-{self.made}",
            "person": person,
            "device": device,
            "device_seq": number,
            "step": step or (current.id if current else None),
            "known_seq": more.pop("known_seq", self.state.last_seq),
            **more,
        }

    def type(self, intent: str, slots: Mapping | None = None, **where) -> str:
        """Type a statement; returns its item."""
        item = Typed(intent=intent, slots=slots or {}, **self.origin(**where))
        self.do(item)
        return item.id

    def say(self, intent: str, slots: Mapping | None = None, **where) -> str:
        """Type a statement and confirm its read-back."""
        item = self.type(intent, slots, **where)
        self.type("control", {"action": "confirm"}, **where)
        return item

    def speak(self, intent: str | None, slots: Mapping | None = None, confidence=0.9, **where) -> str:
        """Send a clip and its hearing; an intent of None is a refused clip."""
        clip = Clip(media=f"{self.made:064x}", **self.origin(**where))
        self.do(clip)
        self.hear(clip.id, intent, slots, confidence)
        return clip.id

    def hear(self, clip: str, intent: str | None, slots: Mapping | None = None, confidence=0.9):
        heard = {"verdict": "heard", "intent": intent, "slots": dict(slots or {}), "confidence": confidence}
        hearing = heard if intent else {"verdict": "refused", "reason": "too quiet"}
        return self.do(HearingResult(clip=clip, hearing=hearing, read_back="as heard"))

    def photograph(self, contacts: Mapping | None = None, p=0.99, of="switch", **where) -> str:
        """Send a photo and, where contacts are given, its reading."""
        photo = Photo(media=f"{self.made:064x}", of=of, **self.origin(**where))
        self.do(photo)
        if contacts is not None:
            self.read(photo.id, contacts, p)
        return photo.id

    def read(self, photo: str, contacts: Mapping, p=0.99):
        return self.do(ReadingResult(photo=photo, contacts=contacts, p=dict.fromkeys(contacts, p)))

    def expected(self, step: str) -> dict[str, str]:
        return dict(self.state.pinned.expected[step])

    def judge(self, step: str, person="vera", seen=None, **more):
        required = more.pop("required", self.expected(step))
        tag = more.pop("tag", TAG)
        given = Judgement(
            person=person, step=step, tag=tag, required=required, seen=seen or self.expected(step), **more
        )
        return self.do(given)

    def agree(self, step: str, person="vera", opinion="agree"):
        return self.do(Opinion(person=person, step=step, opinion=opinion))

    def release(self, step: str, person="vera", **more) -> Refusal | None:
        head = more.pop("head", self.state.head)
        given = {"fresh_sign_in": True, **more}
        return self.tries(Release(person=person, step=step, head=head, **given))

    def verdicts(self, step: str) -> dict[str, str]:
        return {finding.label: finding.verdict for finding in findings(self.state, step)}

    def status(self, name: str) -> str:
        return self.state.condition(name).status

    def passed(self, step: str) -> bool:
        return self.state.step(step).passed is not None


def meet(rig: Rig, name: str, **where) -> None:
    """Meet one condition in the plainest right way."""
    step, _, identifier = name.partition("/")
    need = rig.state.pinned.procedure.step(step).condition(identifier)
    where = {"step": step, **where}
    if need.kind == "statement":
        expires = {"until": "2031-05-07"} if need.limits and need.limits.expires else {}
        rig.say(need.pattern.intent, {**need.pattern.slots, **expires}, **where)
    elif need.kind == "value":
        rig.say(need.pattern.intent, {**need.pattern.slots, **right_value(need.limits)}, **where)
    elif need.kind == "photo":
        rig.photograph(of=need.of, **where)
    elif need.kind in ("findings", "record"):
        claim_and_photograph(rig, **where)
    elif need.kind == "stroke":
        mark_stroke(rig, **where)
    elif need.kind == "judgement":
        rig.judge(need.checkpoint or step)
        rig.agree(need.checkpoint or step)


def mark_stroke(rig: Rig, took_s: float = 84.0, **where) -> tuple[str, str]:
    """Mark a stroke by two taps that lie so many seconds apart; returns their items."""
    start, end = rig.now, rig.now + timedelta(seconds=took_s)
    first = rig.type("mark", {"at": "start"}, device_time=start.isoformat(), **where)
    rig.now = max(rig.now, end)
    return first, rig.type("mark", {"at": "end"}, device_time=end.isoformat(), **where)


def right_value(limits) -> dict:
    """A value inside the limits, in their unit, holding long enough."""
    value = (
        limits.minimum
        if limits.minimum is not None
        else (limits.maximum if limits.maximum is not None else 7)
    )
    slots = {limits.slot: value}
    if limits.unit is not None:
        slots["unit"] = limits.unit
    if limits.expires:
        slots["until"] = "2031-05-07"
    return slots


def claim_and_photograph(rig: Rig, step: str, wrong=(), **where) -> None:
    """Claim every contact as the chart wants it and photograph it so; those in `wrong` shown the other way."""
    want = {label: "open" if state == "either" else state for label, state in rig.expected(step).items()}
    where = {"step": step, **where}
    for state in ("closed", "open"):
        labels = [label for label, wanted in want.items() if wanted == state]
        rig.say("contact", {"contacts": labels, "state": state}, **where)
    shown = {label: other(state) if label in wrong else state for label, state in want.items()}
    rig.photograph(shown, **where)


def other(state: str) -> str:
    return "open" if state == "closed" else "closed"


def meet_all(rig: Rig, step: str, besides=(), **where) -> None:
    """Meet every condition of a step, in order, but those named."""
    for need in rig.state.pinned.procedure.step(step).needs:
        name = f"{step}/{need.id}"
        if need.id not in besides and name not in besides and rig.status(name) != "met":
            meet(rig, name, **where)


def pass_step(rig: Rig, step: str) -> None:
    """Meet everything and, at a hold point, release it by the right person."""
    meet_all(rig, step)
    gate = rig.state.pinned.procedure.step(step)
    if gate.hold_point and not rig.passed(step):
        refusal = rig.release(step, "vera" if gate.released_by == "verifier" else "tess")
        assert refusal is None, f"{step}: {refusal}"
    assert rig.passed(step), (step, rig.state.open_steps()[0].id, lacking_of(rig, step))


def lacking_of(rig: Rig, step: str) -> dict:
    needs = rig.state.pinned.procedure.step(step).needs
    names = [f"{step}/{need.id}" for need in needs]
    return {name: rig.state.condition(name) for name in names if rig.status(name) != "met"}


def play_to(rig: Rig, step: str) -> Rig:
    """Pass every step before the one named."""
    for before in rig.state.pinned.procedure.steps:
        if before.id == step:
            return rig
        if not rig.passed(before.id):
            pass_step(rig, before.id)
    return rig


@cache
def _played(step: str, procedure: str) -> Rig:
    return play_to(Rig(pinned(procedure)), step)


def at(step: str, procedure: str = "one_checkpoint") -> Rig:
    """A rig with every step before the one named passed; its own to play on."""
    return _played(step, procedure).twin()


def play_all(rig: Rig) -> Rig:
    """Pass every step."""
    for step in rig.state.pinned.procedure.steps:
        if not rig.passed(step.id):
            pass_step(rig, step.id)
    return rig
