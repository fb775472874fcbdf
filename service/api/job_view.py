"""A job as it is shown; null stands for what this person may not see yet."""

from typing import Any

from pydantic import Field

from service.api.wire import Message

Open = dict[str, Any]


class HeadView(Message):
    """The newest entry: what a release names."""

    seq: int
    hash: str
    time: str


class NeedView(Message):
    """One thing that a step needs."""

    id: str
    kind: str
    says: str
    status: str = Field(examples=["unmet"])
    because: str


class StepView(Message):
    """A step that may be worked on."""

    id: str
    title: str
    say: str
    why: str
    gives_back: str
    cautions: list[str]
    practice: list[str]
    hold_point: bool
    released_by: str | None
    checkpoint: Open | None
    judged: list[str]
    needs: list[NeedView]
    advice: list["AdviceView"] = Field(
        description="For each rotor that the step sets; empty before claim and photo are stored."
    )


class AdviceView(Message):
    """Which way to turn the setting shaft of one rotor, seen facing its slot."""

    rotor: str
    turn: str = Field(description="clockwise, counter-clockwise or none")
    until: str | None = Field(description="trips or resets")
    turns: float | None = Field(description="Turns of the shaft where they are known.")
    reason: str
    as_of: str | None = Field(description="Checkpoint at which the rotor was last said and photographed.")


class StepLine(Message):
    """A step in the list of all."""

    id: str
    title: str
    hold_point: bool
    passed: bool
    released: Open | None


class PhotoView(Message):
    """A photo of a checkpoint.

    Why it was refused is told at once, what it shows only when that may be seen.
    """

    item: str
    media: str
    of: str
    late: bool
    read: bool
    refused: str | None
    asks_upper_edge: str | None = Field(
        description="Which edge is the upper one, where the photo does not tell which way up the switch is seen."
    )
    way_up: str | None = Field(
        description="What told which way up the switch is seen: tags, structure, a person's tap, or nothing.",
        examples=["tags", "structure", "tap", "not told", "too few rotors"],
    )
    unread: list[str] | None = Field(description="Why single rotors were not read, with what to do better.")
    contacts: dict[str, str] | None
    annotated: str | None


class AttemptView(Message):
    """One attempt at a checkpoint."""

    number: int
    ended: str | None
    claims: dict[str, str] | None
    denied: dict[str, str] | None
    photos: list[PhotoView]
    findings: list[Open] | None
    judgements: list[Open] | None


class CheckpointView(Message):
    """A checkpoint with all of its attempts."""

    step: str
    expected: dict[str, str] | None
    attempts: list[AttemptView]


class ReadBackView(Message):
    """A claim that waits for its read-back to be confirmed."""

    item: str
    step: str | None
    person: str
    say: str


class TravelView(Message):
    """Where the valve stands, as far as it was said; null where that is not known, for the reason given."""

    percent: float | None = Field(description="Percent open.")
    sigma: float | None = Field(description="Standard deviation of the percent.")
    evidence: str | None = Field(description="counted, seen or stated")
    turns: float | None = Field(description="Handwheel turns of real movement from the end `from`.")
    from_end: str | None = Field(alias="from")
    of_total: float | None = Field(description="Handwheel turns counted stop to stop.")
    item: str | None = Field(description="Claim that told it last.")
    moved_towards: str | None
    why_unknown: str
    questions: list[str]
    lost_motion: dict[str, float | None] = Field(description="Handwheel turns, closing and opening.")
    percent_a_turn: float | None
    stem_a_turn: Open | None = Field(description="What one handwheel turn moves: mm or degrees.")
    ends: list[Open] = Field(description="Back-off, true margin and margin required of each end set.")


class StrokeView(Message):
    """One stroke by its marks; `verdict` null: not judged, for what is `lacking`."""

    step: str
    title: str
    number: int
    direction: str
    verdict: str | None = Field(description="fits or differs")
    lacking: list[str]
    took_s: float | None
    sigma_s: float | None
    stated_s: float | None = Field(description="Time that was said in place of marks.")
    expected_s: float | None
    expected_sigma_s: float | None
    from_percent: float | None
    from_sigma: float | None
    stopped_by: str | None
    marks: list[Open] = Field(description="what, t_s from the start, sigma_s, how, items, persons")
    remarks: list[Open] = Field(description="topic, standing (fits, differs, cannot_tell), sentence")


class JobView(Message):
    """A job as this person may see it."""

    job: str
    tag: str
    valve: str
    status: str
    head: HeadView
    caution: str
    pins: dict[str, str]
    people: list[Open]
    steps: list[StepLine]
    open_steps: list[StepView]
    holds: list[Open]
    troubles: list[Open]
    clocks: list[Open] = Field(description="Devices whose clocks are off by more than a minute.")
    travel: TravelView
    strokes: list[StrokeView]
    pending: dict[str, list[int]]
    read_backs: list[ReadBackView]
    checkpoints: list[CheckpointView]
    being_worked_on: list[dict[str, str]]
    given_up: list[Open]


class EntryView(Message):
    """One entry of the journal; its body is null where it would prime this person."""

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
    body: Open | None
    hash: str


class DeskLine(Message):
    """What waits for the second person."""

    job: str
    tag: str
    step: str
    title: str
    hold_point: bool
    attempt: int
    photos: int
    stopped: bool
    changed: str


class DeskView(DeskLine):
    """A step as the second person may see it before and after judging."""

    caution: str
    head: HeadView
    chart: str
    layout: str
    detail: StepView
    lacking: list[str]
    blind: bool | None
    attempts: list[AttemptView]
    expected: dict[str, str] | None
