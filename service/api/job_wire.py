"""The shapes of messages about jobs: opening, items, acts, and a job as it is shown."""

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AwareDatetime, Field, field_validator

from service.api.wire import Message, encodable
from service.domain.incoming import Clip, Item, Photo, Typed
from service.domain.pinned import Valve
from service.ports import Asker, JobRow

ID = "0197a0c4-2f6e-7bb1-9a53-3a2f1c9f0d11"
SHA = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"
Uuid = Field(pattern="^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$", examples=[ID])
Sha256 = Field(pattern="^[0-9a-f]{64}$", examples=[SHA])
Word = Annotated[str, Field(max_length=500), AfterValidator(encodable)]
Number = Annotated[int, Field(ge=-(2**53) + 1, le=2**53 - 1)] | Annotated[float, Field(allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Slot = bool | Number | Word | Annotated[list[Number | Word], Field(max_length=64)]
"""What a slot may hold: a word, a number that JSON can state exactly, yes or no, or a list of words and numbers."""

LISTED = ("contacts", "closed", "open")
"""Slots that are lists of contact labels wherever they stand."""


States = dict[str, Literal["closed", "open", "either", "cannot_tell"]]


class ValveMessage(Message):
    """The valve and what feeds its actuator; sources are locked and tagged each by its spoken name."""

    tag: str = Field(min_length=1, max_length=60, examples=["RW-204"])
    description: str = Field("", max_length=300, examples=["raw water inlet to the west filters"])
    phases: int = Field(3, ge=1, le=3)
    neutral: bool = False
    sources: list[str] = Field(default=["motor_supply", "control_supply"], max_length=12)
    other_circuits: list[str] = Field(default=[], max_length=40)
    flameproof: bool = False

    def valve(self) -> Valve:
        """Return the valve as the domain knows it."""
        return Valve(
            **{
                **self.model_dump(),
                "sources": tuple(self.sources),
                "other_circuits": tuple(self.other_circuits),
            }
        )


class JobMessage(Message):
    """What a job rests on: hashes of stored definitions, and the people with their roles in this job."""

    valve: ValveMessage
    chart: str = Sha256
    layout: str = Sha256
    reference_photo: str | None = Field(
        None,
        pattern="^[0-9a-f]{64}$",
        description="Hash of the layout's own photo; without it only photos with tags can be read.",
    )
    actuator: str | None = Field(
        None,
        pattern="^[0-9a-f]{64}$",
        description="Hash of the valve file with scale and motor; without it no stroke time is expected.",
    )
    procedure: str = Field(
        max_length=64,
        description="Hash of a stored procedure, or the name of a shipped one.",
        examples=["default"],
    )
    people: dict[str, list[str]] = Field(min_length=1, max_length=60, examples=[{ID: ["technician"]}])


class JobLine(Message):
    """A job in the list."""

    job: str = Field(examples=[ID])
    tag: str = Field(examples=["RW-204"])
    valve: str
    status: str = Field(examples=["open"])
    step: str | None
    title: str | None
    opened: str
    changed: str

    @classmethod
    def of(cls, row: JobRow) -> "JobLine":
        """Tell one line."""
        return cls(
            job=row.id,
            tag=row.tag,
            valve=row.valve,
            status=row.status,
            step=row.step,
            title=row.summary.get("title"),
            opened=row.opened,
            changed=row.changed,
        )


class Capture(Message):
    """What every item states of its capture.

    Place in the device's sequence, both clocks, the step it was made for.
    """

    device_seq: int = Field(
        ge=1, le=2**53 - 1, description="Counts from 1 what this device made for this job."
    )
    device_time: AwareDatetime = Field(
        description="Wall clock of the device.", examples=["2031-05-06T09:08:07+02:00"]
    )
    boot_id: str | None = Field(None, max_length=100)
    monotonic_ns: int | None = Field(None, ge=0, le=2**53 - 1)
    step: str | None = Field(None, max_length=100, description="Step that the device showed.")
    known_seq: int | None = Field(None, ge=0, description="Newest entry that the device knew of.")


class ClipItem(Capture):
    """A spoken clip whose bytes are stored."""

    kind: Literal["clip"]
    media: str = Sha256
    began_ms_ago: int | None = Field(
        None,
        ge=0,
        le=3_600_000,
        description="Milliseconds from the start of the recording to device_time and monotonic_ns.",
    )


class PhotoItem(Capture):
    """A photo whose bytes are stored."""

    kind: Literal["photo"]
    media: str = Sha256
    source: Literal["live", "imported"] = "live"
    challenge: str | None = Field(
        None, max_length=40, description="Short code in sight, given for this step."
    )
    burst: str | None = Field(None, max_length=100, description="Names the photos of one release.")
    of: str = Field("switch", max_length=40, description="What the photo is framed on.")
    upper_edge: tuple[Share, Share] | None = Field(
        None,
        description="Where the switch's upper edge was tapped: shares of width and height of the upright picture.",
        examples=[[0.48, 0.12]],
    )


class StatementItem(Capture):
    """A statement typed or tapped instead of spoken."""

    kind: Literal["statement"]
    intent: str = Field(min_length=1, max_length=60, examples=["contact"])
    slots: dict[Word, Slot] = Field(
        default={}, max_length=32, examples=[{"contacts": ["9"], "state": "closed"}]
    )
    answers: str | None = Field(
        None, max_length=36, description="Item that a confirmation or correction is about."
    )

    @field_validator("slots")
    @classmethod
    def _labels_are_lists(cls, slots: dict[str, Any]) -> dict[str, Any]:
        for name in LISTED:
            if name in slots and not isinstance(slots[name], list):
                raise ValueError(f"{name} is a list of contact labels")
        return slots


class ItemMessage(Message):
    """One captured item."""

    item: ClipItem | PhotoItem | StatementItem = Field(discriminator="kind")


def item_of(
    message: ClipItem | PhotoItem | StatementItem, identity: str, asker: Asker, read_back: str
) -> Item:
    """Return an item as the domain knows it: made by this person, on this device."""
    origin: dict[str, Any] = {
        "id": identity,
        "person": asker.person_id,
        "device": asker.device_id or "",
        "device_seq": message.device_seq,
        "device_time": message.device_time.isoformat(),
        "boot_id": message.boot_id,
        "monotonic_ns": message.monotonic_ns,
        "step": message.step,
        "known_seq": message.known_seq,
    }
    if isinstance(message, ClipItem):
        return Clip(**origin, media=message.media, began_ms_ago=message.began_ms_ago)
    if isinstance(message, PhotoItem):
        own = message.model_dump(include={"media", "source", "challenge", "burst", "of", "upper_edge"})
        return Photo(**origin, **own)
    said = message.model_dump(include={"intent", "slots", "answers"})
    return Typed(**origin, **said, read_back=read_back)


class TakenAnswer(Message):
    """What became of an item: acknowledged, so that the device may let it go."""

    item: str = Field(examples=[ID])
    entry: int = Field(description="Its entry in the journal.", examples=[12])
    new: bool = Field(description="False where it was known already.")
    pending: bool = Field(description="True where it waits past a gap in the device's sequence.")
    read_back: str = Field(description="Sentence to give back for a typed statement; empty for others.")


class JudgementMessage(Message):
    """A blind judgement: identity, required state, seen state of each judged contact."""

    tag: str = Field(max_length=60, examples=["RW-204"])
    required: States = Field(examples=[{"9": "open", "17": "closed"}])
    seen: States = Field(examples=[{"9": "open", "17": "cannot_tell"}])
    mode: Literal["independent", "concurrent"] = "independent"
    reason: str = Field("", max_length=2000)


class OpinionMessage(Message):
    """What the second person concludes after judging."""

    opinion: Literal["agree", "disagree", "another_photo"]
    reason: str = Field("", max_length=2000)


class ReleaseMessage(Message):
    """The release of a hold point on the head that its giver saw; a reason where a finding is not agreed."""

    head: str = Sha256
    mode: Literal["independent", "concurrent"] = "independent"
    reason: str = Field("", max_length=2000)


class StopMessage(Message):
    """Stop work; it holds the record, not the motor."""

    reason: str = Field("", max_length=2000, examples=["wrong valve"])
    may_resume: list[str] = Field(default=[], max_length=20, description="Persons who may resume besides.")


class ResumeMessage(Message):
    """Resume work: which stop, and why."""

    stop: int = Field(ge=0, description="Entry that stopped the work.")
    reason: str = Field(min_length=1, max_length=2000, examples=["right valve found"])


class BreakMessage(Message):
    """A break or a change of shift."""

    cause: Literal["break", "shift_change"] = "break"


class HandoverMessage(Message):
    """Hand the job to another technician."""

    to: str = Field(max_length=36, examples=[ID])
    reason: str = Field("", max_length=2000)


class GapMessage(Message):
    """Give up items of a device that will never come."""

    device: str = Field(max_length=36, examples=[ID])
    up_to: int = Field(ge=1)
    reason: str = Field(min_length=1, max_length=2000, examples=["the phone fell into the pit"])


class NoteMessage(Message):
    """A note; it moves nothing."""

    text: str = Field(min_length=1, max_length=4000, examples=["gasket replaced"])
    step: str | None = Field(None, max_length=100)


class DoneAnswer(Message):
    """An act was recorded: the newest entry and its hash, which a release names as the head it saw."""

    status: str = Field(examples=["open"])
    seq: int = Field(examples=[41])
    head: str = Field(examples=[SHA])
