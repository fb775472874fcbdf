"""The state of one job, rebuilt from its entries: values only; how it changes stands in `transitions`."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from service.domain.entries import Entry
from service.domain.moments import Moment
from service.domain.people import Mode
from service.domain.pinned import PinnedJob
from service.domain.procedure import Status, Step
from service.domain.statements import Statement, Subject

ClaimStatus = Literal["pending", "confirmed", "acted", "withdrawn", "superseded", "without_effect"]


@dataclass(frozen=True, slots=True)
class ConditionState:
    """Whether a condition is met, unmet or void, by which entry and person, and why."""

    status: Status = "unmet"
    by: int | None = None
    item: str | None = None
    person: str | None = None
    because: str = ""
    value: Any = None
    expires: str | None = None


@dataclass(frozen=True, slots=True)
class ReleaseRecord:
    """Who released a hold point, how, and which findings that were not agreed the reason covered."""

    seq: int
    person: str
    mode: Mode
    reason: str
    waived: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StepState:
    """The entry by which a step passed, and its release; both None until then, and again once it is void."""

    passed: int | None = None
    released: ReleaseRecord | None = None


@dataclass(frozen=True, slots=True)
class ClaimRecord:
    """One statement of a person, and what became of it. `known_from` is the entry that made its meaning known."""

    item: str
    step: str | None
    statement: Statement
    person: str
    device: str
    known_from: int
    spoken: bool
    status: ClaimStatus = "pending"
    read_back: str = ""
    note: str = ""
    taken_by: str | None = None


@dataclass(frozen=True, slots=True)
class Fact:
    """What was last said on a subject; several may stand until one is confirmed."""

    statement: Statement
    confirmed: bool


@dataclass(frozen=True, slots=True)
class PhotoRecord:
    """One photo, its attempt once it is applied, and its newest usable reading."""

    item: str
    step: str | None
    media: str
    of: str
    seq: int
    attempt: int | None = None
    burst: str | None = None
    upper_edge: tuple[float, float] | None = None
    late: bool = False
    contacts: Mapping[str, str] | None = None
    p: Mapping[str, float] = field(default_factory=dict)
    read_seq: int | None = None
    refused: str | None = None


@dataclass(frozen=True, slots=True)
class ContactClaim:
    """The confirmed claim of one contact in one attempt."""

    state: str
    item: str
    seq: int
    changed_after_reading: bool = False


@dataclass(frozen=True, slots=True)
class JudgementRecord:
    """A second person's judgement in one attempt, and the opinion that followed."""

    seq: int
    person: str
    mode: Mode
    blind: bool
    tag: str
    required: Mapping[str, str]
    seen: Mapping[str, str]
    photos: tuple[str, ...]
    opinion: str | None = None
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Attempt:
    """One attempt at a checkpoint: what was said, denied, photographed and judged in it. Counted from 1."""

    number: int
    claims: Mapping[str, ContactClaim] = field(default_factory=dict)
    denied: Mapping[str, str] = field(default_factory=dict)
    said: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    photos: tuple[str, ...] = ()
    judgements: tuple[JudgementRecord, ...] = ()
    ended: str = ""


@dataclass(frozen=True, slots=True)
class Hold:
    """A stop that nobody has resumed: by whom, why, and who else may resume."""

    seq: int
    item: str
    person: str | None
    reason: str
    may_resume: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something that restricted: the entry, the reason, the conditions that it voided, and whether it came late."""

    seq: int
    item: str
    reason: str
    voided: tuple[str, ...]
    late: bool


@dataclass(frozen=True, slots=True)
class DeviceLine:
    """The items of one device: applied up to `done`, the others waiting by their sequence number."""

    done: int = 0
    waiting: Mapping[int, str] = field(default_factory=dict)
    given_up: int = 0


@dataclass(frozen=True, slots=True)
class ItemRecord:
    """One item as it came, and what is known of it so far.

    `first_word_s` is when its first word began and `audio_s` how long it is, both in seconds, where it was heard.
    """

    entry: Entry
    statement: Statement | None = None
    known_from: int | None = None
    read_back: str = ""
    heard: bool = False
    restricted: bool = False
    applied: bool = False
    first_word_s: float | None = None
    audio_s: float | None = None


def claim_of(item: ItemRecord, statement: Statement) -> ClaimRecord:
    """Return the record of what an item says, before it is known what becomes of it."""
    entry = item.entry
    return ClaimRecord(
        item=entry.id,
        step=entry.step,
        statement=statement,
        person=entry.person or "",
        device=entry.device or "",
        known_from=item.known_from or entry.seq,
        spoken=entry.kind == "clip_taken_in",
        read_back=item.read_back,
    )


@dataclass(frozen=True, slots=True)
class MarkRecord:
    """A moment of a stroke that somebody marked: what, when by the device's clocks, how closely, and how.

    `late`: it came after its step had passed. `gone` says why it no longer counts, and is empty while it does.
    """

    item: str
    step: str
    what: str
    moment: Moment
    sigma_s: float
    how: Literal["spoken", "tapped", "measured"]
    person: str
    seq: int
    late: bool = False
    gone: str = ""


@dataclass(frozen=True)
class JobState:
    """Everything that is known of a job after its newest entry `last_seq`, whose hash is `head`.

    `conditions` is keyed "step/condition"; `attempts` by checkpoint, oldest first; `facts` holds for each subject the
    statements that may stand (one once confirmed); `marks` are the time marks of strokes by item, `stroke_floors` the
    entry by which the strokes of a step last became void; `effects` says for an entry why it had no effect, or what it
    did; `unknown` are entries of kinds that this program does not know.
    """

    pinned: PinnedJob
    last_seq: int = -1
    head: str = ""
    received: str = ""
    opened: bool = False
    conditions: Mapping[str, ConditionState] = field(default_factory=dict)
    steps: Mapping[str, StepState] = field(default_factory=dict)
    items: Mapping[str, ItemRecord] = field(default_factory=dict)
    results: Mapping[str, Entry] = field(default_factory=dict)
    claims: Mapping[str, ClaimRecord] = field(default_factory=dict)
    photos: Mapping[str, PhotoRecord] = field(default_factory=dict)
    attempts: Mapping[str, tuple[Attempt, ...]] = field(default_factory=dict)
    marks: Mapping[str, MarkRecord] = field(default_factory=dict)
    stroke_floors: Mapping[str, int] = field(default_factory=dict)
    owners: Mapping[str, str] = field(default_factory=dict)
    facts: Mapping[Subject, tuple[Fact, ...]] = field(default_factory=dict)
    holds: tuple[Hold, ...] = ()
    troubles: tuple[Trouble, ...] = ()
    devices: Mapping[str, DeviceLine] = field(default_factory=dict)
    took_part: frozenset[str] = frozenset()
    judged: frozenset[str] = frozenset()
    technician: str | None = None
    effects: Mapping[int, str] = field(default_factory=dict)
    unknown: tuple[int, ...] = ()

    @property
    def closed(self) -> bool:
        """Whether every step has passed."""
        return all(self.step(step.id).passed is not None for step in self.pinned.procedure.steps)

    @property
    def stopped(self) -> bool:
        """Whether somebody stopped the work and nobody resumed it."""
        return bool(self.holds)

    def condition(self, name: str) -> ConditionState:
        """Return the state of the condition "step/condition"."""
        return self.conditions.get(name, ConditionState())

    def owner(self, name: str) -> str | None:
        """Return who met a condition last, also where it has become void or was met anew for another purpose."""
        return self.owners.get(name)

    def step(self, identifier: str) -> StepState:
        """Return the state of a step."""
        return self.steps.get(identifier, StepState())

    def open_steps(self) -> tuple[Step, ...]:
        """Return the steps that may be worked on: the first that has not passed, and the first of other lanes.

        Steps of one group of lanes stand side by side in the procedure; once a lane has begun to pass, the others
        wait until it is through.
        """
        procedure = self.pinned.procedure
        for place, step in enumerate(procedure.steps):
            if self.step(step.id).passed is None:
                return (step,) if step.lane is None else self._lanes(place)
        return ()

    def is_open(self, identifier: str) -> bool:
        """Return whether a step may be worked on now."""
        return any(step.id == identifier for step in self.open_steps())

    @property
    def current(self) -> Step | None:
        """The first step that has not passed; None once the job is closed."""
        return next(iter(self.open_steps()), None)

    def attempt(self, step: str) -> Attempt | None:
        """Return the newest attempt at a checkpoint, or None before the first."""
        attempts = self.attempts.get(step, ())
        return attempts[-1] if attempts else None

    def _lanes(self, place: int) -> tuple[Step, ...]:
        steps = self.pinned.procedure.steps
        first, last = place, place
        while first > 0 and steps[first - 1].lane is not None:
            first -= 1
        while last + 1 < len(steps) and steps[last + 1].lane is not None:
            last += 1
        lanes: dict[str, list[Step]] = {}
        for step in steps[first : last + 1]:
            lanes.setdefault(str(step.lane), []).append(step)
        waiting = {name: self._first_unpassed(lane) for name, lane in lanes.items()}
        begun = [
            step for name, step in waiting.items() if step and step is not lanes[name][0] and step is not None
        ]
        return tuple(begun) or tuple(step for step in waiting.values() if step)

    def _first_unpassed(self, lane: list[Step]) -> Step | None:
        return next((step for step in lane if self.step(step.id).passed is None), None)
