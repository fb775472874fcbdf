"""What comes in from outside, as typed values; `decisions.decide` turns each into new entries or refuses it.

An *item* is made on a device and accepted whenever it is well-formed, whatever the order of arrival; a *result* comes
from an engine; an *act* is done by a signed-in person at once and may be refused.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from service.domain.people import Mode


@dataclass(frozen=True, kw_only=True)
class Origin:
    """Where an item comes from.

    `id` is the UUID that the device gave, `device_seq` counts from 1 the items that this device made for this job,
    `step` is the step that the device showed, `known_seq` the newest entry of the job that the device had been told
    when the item was made (None: not known, so the item counts as made before anything closed).
    """

    id: str
    person: str
    device: str
    device_seq: int
    device_time: str | None = None
    boot_id: str | None = None
    monotonic_ns: int | None = None
    step: str | None = None
    known_seq: int | None = None


@dataclass(frozen=True, kw_only=True)
class Clip(Origin):
    """A spoken clip; what it says comes later, as a hearing result.

    `doubts` are words of `clip_doubts.DOUBTS`: with any of them the clip restricts and permits nothing.
    `began_ms_ago` is how long before `device_time` and `monotonic_ns` its recording began, in milliseconds, so that a
    word in it has a time; None where the device did not say.
    """

    media: str
    doubts: tuple[str, ...] = ()
    began_ms_ago: int | None = None


@dataclass(frozen=True, kw_only=True)
class Photo(Origin):
    """A photo: live or imported, with the challenge code in sight, the burst it belongs to, what it is framed on.

    `upper_edge` is where the person tapped the switch's upper edge in it, as shares of its width and height from the
    upper left corner of the upright picture; None where nobody tapped.
    """

    media: str
    source: Literal["live", "imported"] = "live"
    challenge: str | None = None
    burst: str | None = None
    of: str = "switch"
    upper_edge: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Typed(Origin):
    """A statement typed or tapped instead of spoken: claims, values, travel, controls, all by intent and slots.

    `read_back` is the sentence that the device showed; `answers` names the item that a confirmation or a correction
    is about, where it is not the newest.
    """

    intent: str
    slots: Mapping[str, Any] = field(default_factory=dict)
    read_back: str = ""
    answers: str | None = None


@dataclass(frozen=True, kw_only=True)
class HearingResult:
    """What an engine heard in a clip; `hearing` is the whole result, `read_back` the sentence to give back."""

    clip: str
    hearing: Mapping[str, Any]
    read_back: str = ""


@dataclass(frozen=True, kw_only=True)
class ReadingResult:
    """What the reader saw in a photo: label to closed, open, between, none or impossible; `p` per label, 0 to 1."""

    photo: str
    contacts: Mapping[str, str]
    p: Mapping[str, float] = field(default_factory=dict)
    reading: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """A second person's judgement of a checkpoint: the tag read, required and seen state of every judged contact.

    `seen` may say cannot_tell. `served` is what this person was served of this job (`sight.Served`), from which
    blindness is computed, over all roles and devices.
    """

    person: str
    step: str
    tag: str
    required: Mapping[str, str]
    seen: Mapping[str, str]
    mode: Mode = "independent"
    reason: str = ""
    served: tuple[Any, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Opinion:
    """What the second person concludes: agree, disagree, or another photo."""

    person: str
    step: str
    opinion: Literal["agree", "disagree", "another_photo"]
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Release:
    """The release of a hold point. `head` is the hash of the newest entry that its giver saw."""

    person: str
    step: str
    head: str
    fresh_sign_in: bool
    mode: Mode = "independent"
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Stop:
    """Work is stopped, by anyone; `may_resume` names further persons who may resume it."""

    person: str
    reason: str = ""
    may_resume: tuple[str, ...] = ()
    device: str | None = None


@dataclass(frozen=True, kw_only=True)
class Resume:
    """Work is resumed; `stop` is the seq of the entry that stopped it."""

    person: str
    stop: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class Break:
    """Work pauses for a break or a change of shift."""

    person: str
    cause: Literal["break", "shift_change"] = "break"


@dataclass(frozen=True, kw_only=True)
class Handover:
    """The job is handed to another technician."""

    person: str
    to: str
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class GiveUpGap:
    """Items of a device that will never come are given up, up to and including `up_to`."""

    person: str
    device: str
    up_to: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class DefinitionChange:
    """A pinned definition changed on the way."""

    person: str
    what: str
    was: str
    now: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class Note:
    """A person's note; it moves nothing."""

    person: str
    text: str
    step: str | None = None


@dataclass(frozen=True, kw_only=True)
class RefusedRelease:
    """A release that was asked for and held; it moves nothing, and shows that it was tried."""

    person: str
    step: str
    head: str
    why: str


Item = Clip | Photo | Typed
Result = HearingResult | ReadingResult
Act = (
    Judgement
    | Opinion
    | Release
    | Stop
    | Resume
    | Break
    | Handover
    | GiveUpGap
    | DefinitionChange
    | Note
    | RefusedRelease
)
Incoming = Item | Result | Act
