"""The kinds of entry of a job's journal: one table, past tense, each with its version and its fields.

An entry is evidence or a record. Evidence (an item of a device, a result of an engine, an act of a person) moves the
job; a record says in the open what the domain concluded from evidence and has no power of its own: leaving one out
opens nothing. Kinds that this table does not know are kept and shown, and move nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Literal

Body = Mapping[str, Any]
Restricts = Literal["always", "by_content", "never"]
Power = Literal["evidence", "act", "record"]

NO_BODY: Body = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Entry:
    """One sealed line of a job's journal.

    `seq` counts from 0 without a gap, `id` is the identity that its maker gave (for an item of a device its UUID),
    `device_seq` counts from 1 the items that one device made for this job, `device_time` is RFC 3339 with offset,
    `monotonic_ns` orders what one boot of a device did, `received` is RFC 3339 UTC, `hash` the hex SHA-256 of the
    envelope.
    """

    seq: int
    kind: str
    version: int
    id: str
    person: str | None
    device: str | None
    device_seq: int | None
    device_time: str | None
    boot_id: str | None
    monotonic_ns: int | None
    received: str
    body: Body
    hash: str

    @property
    def step(self) -> str | None:
        """The step that the entry is for; None where it names none in words."""
        step = self.body.get("step")
        return step if isinstance(step, str) else None

    def group(self, name: str) -> Body:
        """Return a group of fields of the body; empty where there is none, or something else."""
        value = self.body.get(name)
        return value if isinstance(value, Mapping) else NO_BODY


@dataclass(frozen=True, slots=True)
class NewEntry:
    """An entry before the journal has sealed it; `id` None lets the journal choose one."""

    kind: str
    body: Body = field(default_factory=lambda: NO_BODY)
    id: str | None = None
    person: str | None = None
    device: str | None = None
    device_seq: int | None = None
    device_time: str | None = None
    boot_id: str | None = None
    monotonic_ns: int | None = None
    version: int = 1

    def sealed(self, seq: int, received: str, digest: str) -> Entry:
        """Return the entry as it stands at that place of the journal."""
        return Entry(
            seq=seq,
            kind=self.kind,
            version=self.version,
            id=self.id or f"entry-{seq}",
            person=self.person,
            device=self.device,
            device_seq=self.device_seq,
            device_time=self.device_time,
            boot_id=self.boot_id,
            monotonic_ns=self.monotonic_ns,
            received=received,
            body=self.body,
            hash=digest,
        )


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of entry: what its body holds, whether it is about a person, and what it can do.

    `personal` payloads are salted so that one can later be redacted with the chain intact. `restricts` says whether an
    entry of this kind can hold the job, and so acts on arrival past any gap: always, by its content, or never.
    """

    name: str
    version: int
    says: str
    fields: Mapping[str, str]
    power: Power
    personal: bool = False
    restricts: Restricts = "never"


def _kind(
    name: str,
    says: str,
    fields: str,
    power: Power,
    **more: Any,  # noqa: ANN401 - passed on to the dataclass, which checks it
) -> tuple[str, Kind]:
    """Return a row of the table; `fields` reads "name: meaning; name: meaning"."""
    pairs = (part.split(":", 1) for part in fields.split(";") if part.strip())
    return name, Kind(
        name,
        1,
        says,
        MappingProxyType({key.strip(): meaning.strip() for key, meaning in pairs}),
        power,
        **more,
    )


STEP = (
    "step: step that the item was made for, or null;"
    "known_seq: newest entry its device knew when it was made, or null"
)

KINDS: Mapping[str, Kind] = MappingProxyType(
    dict(
        [
            _kind(
                "job_opened",
                "The job was opened and its definitions pinned",
                "job: identifier; valve: tag;"
                "pins: name to sha256 of chart, layout, procedure, phrases, models, site rules;"
                "people: who may do what",
                "act",
                personal=True,
            ),
            _kind(
                "clip_taken_in",
                "A spoken clip was taken in",
                f"media: sha256; {STEP}; doubts: why it restricts and permits nothing, if so;"
                "began_ms_ago: ms from the start of the recording to device_time, where stated",
                "evidence",
                personal=True,
                restricts="by_content",
            ),
            _kind(
                "photo_taken_in",
                "A photo was taken in",
                f"media: sha256; {STEP}; source: live or imported; challenge: code in sight;"
                "burst: photos of one release;"
                "of: what it is framed on; upper_edge: shares of width and height where it was tapped, where it was",
                "evidence",
            ),
            _kind(
                "statement_made",
                "A statement was typed or tapped",
                f"intent: what it is about; slots: its parts; {STEP}; read_back: sentence given back;"
                "answers: claim that a confirmation is about, or null",
                "evidence",
                personal=True,
                restricts="by_content",
            ),
            _kind(
                "clip_heard",
                "A clip was heard, or its hearing refused",
                "clip: item; hearing: whole result; read_back: sentence given back",
                "evidence",
                personal=True,
                restricts="by_content",
            ),
            _kind(
                "photo_read",
                "A photo was read, or its reading refused",
                "photo: item; contacts: label to closed, open, between, none or impossible;"
                "p: label to calibrated probability;"
                "reading: whole result",
                "evidence",
                restricts="by_content",
            ),
            _kind(
                "judgement_given",
                "A second person judged a checkpoint",
                "step: checkpoint; tag: identity read; required: label to state; seen: label to state or cannot_tell;"
                "mode: independent or concurrent; blind: what the log of servings says; served: what had been served",
                "act",
                personal=True,
                restricts="by_content",
            ),
            _kind(
                "opinion_given",
                "A second person agreed, disagreed or asked for another photo",
                "step: checkpoint; opinion: agree, disagree or another_photo; reason: in words",
                "act",
                personal=True,
                restricts="by_content",
            ),
            _kind(
                "hold_point_released",
                "A hold point was released",
                "step: hold point; head: hash of the newest entry that the giver saw; mode: independent or concurrent;"
                "reason: why, where a finding is not agreed; fresh_sign_in: true",
                "act",
                personal=True,
            ),
            _kind(
                "release_refused",
                "A release was asked for while something kept the hold point shut",
                "step: hold point; head: hash of the newest entry that the asker saw; reason: what keeps it shut",
                "record",
            ),
            _kind(
                "work_stopped",
                "Work was stopped",
                "reason: in words; may_resume: persons named",
                "act",
                personal=True,
                restricts="always",
            ),
            _kind(
                "work_resumed",
                "Work was resumed",
                "stop: seq of the entry that stopped it; reason: in words",
                "act",
                personal=True,
            ),
            _kind(
                "break_taken",
                "Work paused for a break or a change of shift",
                "cause: break or shift_change",
                "act",
                personal=True,
                restricts="always",
            ),
            _kind(
                "handed_over",
                "The job was handed to another technician",
                "to: person; reason: in words",
                "act",
                personal=True,
                restricts="always",
            ),
            _kind(
                "gap_given_up",
                "Items that never came were given up",
                "device: whose; up_to: device_seq; reason: in words",
                "act",
                personal=True,
            ),
            _kind(
                "item_conflicted",
                "An identity came twice with different content",
                "item: identity; kind: what came; body: what came",
                "record",
                personal=True,
            ),
            _kind(
                "definition_changed",
                "A pinned definition changed on the way",
                "what: name; was: sha256; now: sha256; reason: in words",
                "act",
                restricts="always",
            ),
            _kind(
                "finding_made",
                "Claim, reading and expected of one contact were brought together",
                "step: checkpoint; attempt: number; label: contact; claim: state or null; reading: state;"
                "expected: state;"
                "verdict: word; reasons: sentences; p: bar position as shown;"
                "changed_after_reading: claim changed after the reading was known",
                "record",
            ),
            _kind(
                "stroke_judged",
                "The marks of a stroke were judged",
                "step: which; number: run of the step; direction: open or closed;"
                "marks: what, t_s, sigma_s, how, items; took_s: seconds or null; sigma_s: their doubt;"
                "expected_s: by rehearsal or null; expected_sigma_s: its doubt;"
                "from_pct: travel at the start or null; from_sigma_pct: its doubt; stopped_by: what was said;"
                "verdict: fits or differs; remarks: topic, standing, sentence",
                "record",
            ),
            _kind(
                "margin_computed",
                "How far an end is set from its stop was computed",
                "step: where it was set; end: open or closed; by: claim that told it; back_off_turns: as counted;"
                "lost_motion_turns: as counted; way: on_approach or after_backing_off;"
                "margin_pct: percent of travel or null; required_pct: percent or null;"
                "enough: true, false or null; reason: sentence",
                "record",
            ),
            _kind(
                "step_passed",
                "The conditions of a step were met",
                "step: which; rests_on: condition to seq",
                "act",
            ),
            _kind(
                "gate_held",
                "Something restricted: conditions were made void or the job was held",
                "because: identity of the entry that did it; reason: in words; step: where the job stands now;"
                "voided: conditions; late: whether the gate had been passed",
                "record",
            ),
            _kind(
                "note_added", "A person added a note", "text: in words; step: where", "record", personal=True
            ),
            _kind("job_closed", "The job was handed back", "step: last step", "record"),
        ],
    )
)


def kind_of(entry: Entry | NewEntry) -> Kind | None:
    """Return the kind of an entry, or None where this program does not know it in that version."""
    kind = KINDS.get(entry.kind)
    return kind if kind is not None and kind.version == entry.version else None


def is_personal(kind: str) -> bool:
    """Return whether payloads of that kind are salted; a kind that is not known is treated as personal."""
    known = KINDS.get(kind)
    return known is None or known.personal
