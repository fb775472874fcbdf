"""The judgement of a real stroke from time marks, spoken or tapped, against its rehearsal.

What time marks cannot resolve is said. Lamp and motor contacts are separate: "lamp out" is a sign that the
drive was stopped by the limit, never a proof, and never written as one (common practice, no source).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from service.domain.figures import finite, zero_or_more
from service.domain.refusals import BadDefinition
from service.domain.rehearsal import Event, Rehearsal

How = Literal["spoken", "tapped", "measured"]
Topic = Literal["time", "other_direction", "earlier_jobs", "stopped_by", "lamps", "duty", "resolution"]
Standing = Literal["fits", "differs", "cannot_tell"]

MARK_SIGMA_S: Mapping[How, float] = {"spoken": 0.5, "tapped": 0.25, "measured": 0.02}
"""How closely a mark follows what it marks, in seconds; from memory, a site confirms it."""
CHANGE_SHARE = 0.10
"""Change of stroke time that is looked into; common practice is 10 to 20 per cent, no source."""
WIDE = 2.0
"""Standard deviations beyond which a difference is said to be one."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment that somebody marked: "start", "stop" or "lamp red goes dark"; seconds, and how.

    `own_sigma_s` is its standard deviation where that is better known than by `how`: with word, clip and clocks.
    """

    what: str
    t_s: float
    how: How = "spoken"
    own_sigma_s: float | None = None

    def __post_init__(self) -> None:
        if self.own_sigma_s is not None:
            zero_or_more(self.own_sigma_s, "marks.own_sigma_s", "The standard deviation of a mark in seconds")

    @property
    def sigma_s(self) -> float:
        """The standard deviation of the mark in seconds."""
        return MARK_SIGMA_S[self.how] if self.own_sigma_s is None else self.own_sigma_s


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing that the marks say about a stroke: on what, whether it fits, and a sentence with figures."""

    topic: Topic
    standing: Standing
    sentence: str


@dataclass(frozen=True, slots=True)
class Compared:
    """Stroke times in seconds to compare with: of the other direction, and of earlier strokes this way.

    `sigma_s` is the standard deviation that the other times bring with them, in seconds.
    """

    other_direction_s: float | None = None
    earlier_s: tuple[float, ...] = ()
    change_share: float = CHANGE_SHARE
    sigma_s: float = 0.0

    def __post_init__(self) -> None:
        zero_or_more(self.sigma_s, "sigma_s", "The standard deviation of the times to compare with")
        zero_or_more(self.change_share, "change_share", "The change that is looked into")
        for number, earlier in enumerate(self.earlier_s):
            zero_or_more(earlier, f"earlier_s[{number}]", "An earlier stroke time in seconds")


def judge(
    rehearsal: Rehearsal | None, marks: Sequence[Mark], compared: Compared | None = None
) -> tuple[Remark, ...]:
    """Return what the marks of a real stroke say, in the order of `Topic`; without a rehearsal, little.

    Raises
    ------
    BadDefinition
        Start or stop is missing or given twice, a time is not finite, or the stop lies before the start.

    """
    start, stop = _one(marks, "start"), _one(marks, "stop")
    for number, mark in enumerate(marks):
        finite(mark.t_s, f"marks[{number}].t_s", "The time of a mark")
    if stop.t_s <= start.t_s:
        raise BadDefinition("The stop lies before the start.", field="marks")
    compared = compared or Compared()
    took = stop.t_s - start.t_s
    doubt = math.hypot(start.sigma_s, stop.sigma_s)
    return (
        _time(rehearsal, took, doubt),
        *_other_direction(took, doubt, compared),
        *_earlier_jobs(took, doubt, compared),
        _stopped_by(rehearsal, took, doubt),
        *_lamps(rehearsal, marks, start),
        _resolution(rehearsal, doubt),
    )


def _time(rehearsal: Rehearsal | None, took: float, doubt: float) -> Remark:
    if rehearsal is None:
        return Remark("time", "cannot_tell", f"The stroke took {took:.1f} s; nothing says what to expect.")
    due = _standstill(rehearsal)
    if due is None:
        return Remark(
            "time", "cannot_tell", "The rehearsal does not come to a standstill; there is no time to expect."
        )
    sigma = math.hypot(doubt, due.sigma_s)
    share = (took - due.t_s) / due.t_s
    words = f"{took:.1f} s against {due.t_s:.1f} s expected ({share:+.1%}, doubt {WIDE * sigma:.1f} s)"
    if abs(took - due.t_s) <= WIDE * sigma:
        return Remark("time", "fits", f"The stroke took {words}.")
    return Remark(
        "time", "differs", f"The stroke took {words}: {'slower' if share > 0 else 'faster'} than expected."
    )


def _other_direction(took: float, doubt: float, compared: Compared) -> list[Remark]:
    if compared.other_direction_s is None:
        return []
    return [
        _change("other_direction", "the other direction", took, compared.other_direction_s, doubt, compared)
    ]


def _earlier_jobs(took: float, doubt: float, compared: Compared) -> list[Remark]:
    if not compared.earlier_s:
        return []
    mean = sum(compared.earlier_s) / len(compared.earlier_s)
    return [
        _change("earlier_jobs", f"the mean of {len(compared.earlier_s)} earlier", took, mean, doubt, compared)
    ]


def _change(  # noqa: PLR0913 - what is compared, its name, the two times, their doubt and the rule
    topic: Topic, name: str, took: float, other: float, doubt: float, compared: Compared
) -> Remark:
    share = (took - other) / other if other else math.inf
    doubt = math.hypot(doubt, compared.sigma_s)
    words = f"{took:.1f} s against {other:.1f} s of {name} ({share:+.1%})"
    if abs(took - other) <= WIDE * doubt and abs(share) > compared.change_share:
        return Remark(
            topic,
            "cannot_tell",
            f"{words}: more than {compared.change_share:.0%}, but within the marks' doubt.",
        )
    if abs(share) > compared.change_share:
        return Remark(topic, "differs", f"{words}: more than {compared.change_share:.0%}, look into it.")
    return Remark(topic, "fits", f"{words}: within {compared.change_share:.0%}.")


def _stopped_by(rehearsal: Rehearsal | None, took: float, doubt: float) -> Remark:
    """Compare the time with a stop at the limit and with a run to the end of travel."""
    due = _standstill(rehearsal) if rehearsal else None
    travelled = _time_to_the_end(rehearsal) if rehearsal else None
    if rehearsal is None or rehearsal.stopped_by != "limit" or due is None or travelled is None:
        return Remark(
            "stopped_by",
            "cannot_tell",
            "Time marks alone do not show what stopped the drive; record what was seen.",
        )
    sigma = math.hypot(doubt, due.sigma_s)
    names = " and ".join(rehearsal.by_contacts)
    apart = travelled - due.t_s
    if apart < 2 * WIDE * sigma:
        return Remark(
            "stopped_by", "cannot_tell",
            f"A stop by contact {names} and a run to the hard stop lie {apart:.1f} s apart, the marks' "
            "doubt is "
            f"{WIDE * sigma:.1f} s: they cannot tell one from the other.",
        )  # fmt: skip
    if abs(took - due.t_s) <= WIDE * sigma:
        return Remark(
            "stopped_by", "fits",
            f"The time fits a stop by contact {names}, which the chart names; it is a sign, not a proof.",
        )  # fmt: skip
    return Remark(
        "stopped_by", "differs",
        f"The time does not fit a stop by contact {names}, which the chart names: find what stopped the "
        "drive.",
    )  # fmt: skip


def _lamps(rehearsal: Rehearsal | None, marks: Sequence[Mark], start: Mark) -> list[Remark]:
    """Say of each lamp whether it changed when the rehearsal lets it, and whether the order was right."""
    if rehearsal is None:
        return []
    due = {event.what: event for event in rehearsal.events if event.kind == "lamp"}
    seen = [mark for mark in marks if mark.what.startswith("lamp ")]
    remarks = [_lamp(mark, due.get(mark.what), mark.t_s - start.t_s, start) for mark in seen]
    marked = {mark.what for mark in seen}
    remarks += [
        Remark("lamps", "cannot_tell", f"Nobody marked that {event.what}, due at {event.t_s:.1f} s.")
        for what, event in due.items()
        if what not in marked
    ]
    known = sorted((mark for mark in seen if mark.what in due), key=lambda mark: mark.t_s)
    for first, then in pairwise(known):
        if due[first.what].t_s > due[then.what].t_s and then.t_s - first.t_s > WIDE * math.hypot(
            first.sigma_s, then.sigma_s
        ):
            remarks.append(
                Remark("lamps", "differs", f"{first.what} came before {then.what}; the chart wants it after.")
            )
    return remarks


def _lamp(mark: Mark, due: Event | None, took: float, start: Mark) -> Remark:
    if due is None:
        return Remark(
            "lamps", "differs", f"{mark.what} at {took:.1f} s; the chart has no such change on this stroke."
        )
    sigma = math.hypot(math.hypot(mark.sigma_s, start.sigma_s), due.sigma_s)
    words = f"{mark.what} at {took:.1f} s, due at {due.t_s:.1f} s (doubt {WIDE * sigma:.1f} s)"
    note = (
        "; it shows the lamp's contact, not what stopped the motor" if mark.what.endswith("goes dark") else ""
    )
    standing: Standing = "fits" if abs(took - due.t_s) <= WIDE * sigma else "differs"
    return Remark("lamps", standing, f"{words}{note}.")


def _resolution(rehearsal: Rehearsal | None, doubt: float) -> Remark:
    """Say what the marks are too coarse for; the coast, where one is expected, by its figure."""
    least = WIDE * doubt
    said = f"These marks cannot resolve a difference of less than {least:.1f} s."
    opened = rehearsal.time_of("circuit_opens") if rehearsal else None
    stands = _standstill(rehearsal) if rehearsal else None
    if opened is not None and stands is not None and 0.0 < stands.t_s - opened.t_s < least:
        said += f" {stands.t_s - opened.t_s:.1f} s of coast cannot be seen in them."
    return Remark("resolution", "cannot_tell", said)


def _standstill(rehearsal: Rehearsal) -> Event | None:
    return rehearsal.time_of("standstill") or rehearsal.time_of("end")


def _time_to_the_end(rehearsal: Rehearsal) -> float | None:
    """Return when the valve would have met the hard stop at full speed, had nothing stopped it; seconds."""
    opened, command = rehearsal.time_of("circuit_opens"), rehearsal.time_of("command")
    if opened is None or command is None or rehearsal.left_pct is None or rehearsal.coast_pct is None:
        return None
    covered = abs(opened.travel_pct - command.travel_pct)
    if covered == 0:
        return None
    return opened.t_s * (covered + rehearsal.coast_pct + rehearsal.left_pct) / covered


def _one(marks: Sequence[Mark], what: str) -> Mark:
    found = [mark for mark in marks if mark.what == what]
    if len(found) != 1:
        raise BadDefinition(f"A stroke has one mark for its {what}; here are {len(found)}.", field="marks")
    return found[0]
