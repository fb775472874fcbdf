"""Time marks of a stroke: taken from words and taps, and put together into runs of the valve.

A mark has the time of its word within the recording, or of its tap, never of its message. It is taken down when it is
heard, without a read-back of its own: a valve under power waits for nobody. All marks of a stroke are given back
together with its judgement, and count by the release that follows; until then a correction takes the last one away.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from service.domain.clip_doubts import why_in_doubt
from service.domain.job_state import ItemRecord, JobState, MarkRecord, claim_of
from service.domain.moments import Moment, clock_sigma, moment_of, on_one_scale
from service.domain.needs import why_not_taking_part
from service.domain.procedure import Step
from service.domain.restricting import is_late
from service.domain.statements import Statement
from service.domain.stroke import MARK_SIGMA_S, WIDE, How
from service.domain.voiding import put, with_effect

WORD_SIGMA_S = 0.1
"""How closely the hearer tells when a word began; from memory, measured on no voice of a site."""
UNTOLD_BEGIN_SIGMA_S = 0.5
"""Doubt added where a device did not say when its recording began; from memory."""
WHATS = {"start": "start", "moving": "moving", "end": "stop", "stopped": "stop", "now": "moment"}
"""What a mark is of, by its slot `at`."""
LAMP_CHANGES = {"on": "lights", "off": "goes dark"}
INTENT = "mark"


@dataclass(frozen=True, slots=True)
class TimedMark:
    """A mark on the scale of its stroke: seconds, standard deviation of the mark itself, what, and by which items."""

    what: str
    t_s: float
    sigma_s: float
    how: How
    moment: Moment
    items: tuple[str, ...]
    persons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the valve by its marks, in the order of time; `fault` says why it cannot be judged, or is empty."""

    marks: tuple[TimedMark, ...]
    fault: str = ""

    def one(self, what: str) -> TimedMark | None:
        """Return the mark of that kind, None where there is none."""
        return next((mark for mark in self.marks if mark.what == what), None)

    @property
    def is_whole(self) -> bool:
        """Whether start and stop are marked, each once, the stop after the start."""
        return not self.fault

    def took(self) -> tuple[float, float] | None:
        """Return the seconds from start to stop and their standard deviation; None where the run is not whole."""
        start, stop = self.one("start"), self.one("stop")
        if start is None or stop is None or self.fault:
            return None
        return stop.t_s - start.t_s, apart_sigma(start, stop)


def asks_for_stroke(step: Step) -> bool:
    """Return whether a step has a stroke marked and judged."""
    return any(need.kind == "stroke" for need in step.needs)


def is_mark_of_stroke(state: JobState, item: ItemRecord) -> bool:
    """Return whether an item marks a moment of a stroke that its step has judged."""
    statement, step = item.statement, item.entry.step
    if statement is None or statement.intent != INTENT or step not in state.pinned.procedure.places:
        return False
    return asks_for_stroke(state.pinned.procedure.step(str(step)))


def take_mark(state: JobState, item: ItemRecord) -> JobState:
    """Take a mark down in its turn, with why it does not count where it does not."""
    entry, statement = item.entry, item.statement
    if statement is None or entry.step is None:
        return state
    late = is_late(state, item, entry.step)
    mark = _mark(item, statement)
    why = _why_without_effect(state, item, mark, late=late)
    claim = replace(
        claim_of(item, statement),
        status="without_effect" if why else "acted",
        note=why or "A mark is taken down at once; the judgement of its stroke gives it back.",
    )
    state = replace(state, claims=put(state.claims, entry.id, claim))
    if why is not None or mark is None:
        return with_effect(state, entry.seq, why or "")
    state = replace(state, marks=put(state.marks, entry.id, replace(mark, late=late)))
    return with_effect(state, entry.seq, f"Marked: {mark.what}.")


def runs_of(state: JobState, step: str) -> tuple[Run, ...]:
    """Return the runs that the marks of a step make, in the order of time; whatever order they came in."""
    counted = [mark for mark in state.marks.values() if mark.step == step and not mark.gone]
    return runs_from(counted)


def runs_from(marks: Iterable[MarkRecord]) -> tuple[Run, ...]:
    """Return the runs that marks make: each begins with a start, what lies before the first start begins none."""
    ordered = _timed(marks)
    runs: list[list[TimedMark]] = []
    for mark in ordered:
        if mark.what == "start" or not runs:
            runs.append([])
        runs[-1].append(mark)
    return tuple(Run(tuple(run), _fault(run)) for run in runs)


def apart_sigma(one: TimedMark, other: TimedMark) -> float:
    """Return the standard deviation in seconds of the distance of two marks, clocks included."""
    clocks = clock_sigma(one.moment, other.moment)
    return math.sqrt(one.sigma_s**2 + other.sigma_s**2 + clocks**2)


def _mark(item: ItemRecord, statement: Statement) -> MarkRecord | None:
    """Return what an item marks and when; None where that cannot be told."""
    what, made = _what(statement), moment_of(item.entry)
    if what is None or made is None:
        return None
    how: How = "spoken" if item.entry.kind == "clip_taken_in" else "tapped"
    sigma, at = MARK_SIGMA_S[how], made
    if how == "spoken":
        ago = item.entry.body.get("began_ms_ago")
        said = isinstance(ago, int) and not isinstance(ago, bool)
        length = item.audio_s or 0.0
        began = made.moved(-(float(str(ago)) / 1000.0 if said else length))
        within = length / 2.0 if item.first_word_s is None else item.first_word_s
        doubt = length / math.sqrt(12.0) if item.first_word_s is None else WORD_SIGMA_S
        at = began.moved(within)
        sigma = math.sqrt(sigma**2 + doubt**2 + (0.0 if said else UNTOLD_BEGIN_SIGMA_S**2))
    return MarkRecord(
        item=item.entry.id,
        step=str(item.entry.step),
        what=what,
        moment=at,
        sigma_s=sigma,
        how=how,
        person=item.entry.person or "",
        seq=item.entry.seq,
    )


def _what(statement: Statement) -> str | None:
    at = str(statement.slots.get("at", "now"))
    if at in WHATS:
        return WHATS[at]
    colour, change = statement.slots.get("colour"), LAMP_CHANGES.get(str(statement.slots.get("state")))
    return f"lamp {colour} {change}" if at == "lamp" and colour is not None and change else None


def _why_without_effect(
    state: JobState, item: ItemRecord, mark: MarkRecord | None, *, late: bool
) -> str | None:
    """Return why a mark cannot count, in words; None where it can. One that comes late counts: it may contradict."""
    step, statement = str(item.entry.step), item.statement
    doubt = why_in_doubt(item.entry)
    if doubt is not None:
        return doubt
    if statement is None or statement.negated or mark is None:
        return "It marks no moment, or its device gave no time."
    if statement.corrected:
        return "It corrects itself, so its time is not sure: take it back and mark again."
    if not state.is_open(step) and not late:
        if state.step(step).passed is None:
            return "Its step is not open yet."
        return "It was made after its step had closed."
    floor, known = state.stroke_floors.get(step), item.entry.body.get("known_seq")
    if floor is not None and (not isinstance(known, int) or known < floor):
        return "It was made before its stroke became void."
    return why_not_taking_part(state, item.entry.person, None)


def _timed(marks: Iterable[MarkRecord]) -> list[TimedMark]:
    """Return marks on one scale in the order of time, those of one thing within their doubt as one."""
    given = sorted(marks, key=lambda mark: mark.item)
    scale = on_one_scale(mark.moment for mark in given)
    timed = [
        TimedMark(
            mark.what, scale[mark.moment], mark.sigma_s, mark.how, mark.moment, (mark.item,), (mark.person,)
        )
        for mark in given
    ]
    kept: list[TimedMark] = []
    for mark in sorted(timed, key=lambda one: (one.t_s, one.what, one.items)):
        twin = next((one for one in reversed(kept) if one.what == mark.what), None)
        if twin is not None and mark.what != "moment" and _are_one(twin, mark):
            kept[kept.index(twin)] = _together(twin, mark)
        else:
            kept.append(mark)
    return sorted(kept, key=lambda one: (one.t_s, one.what, one.items))


def _are_one(one: TimedMark, other: TimedMark) -> bool:
    return abs(other.t_s - one.t_s) <= WIDE * apart_sigma(one, other)


def _together(one: TimedMark, other: TimedMark) -> TimedMark:
    """Return two marks of one thing as one between them; two witnesses of one moment make it no surer."""
    surer = min(one, other, key=lambda mark: (mark.sigma_s, mark.items))
    return replace(
        surer,
        t_s=(one.t_s + other.t_s) / 2.0,
        sigma_s=max(one.sigma_s, other.sigma_s),
        items=(*one.items, *other.items),
        persons=tuple(dict.fromkeys((*one.persons, *other.persons))),
    )


def _fault(run: Iterable[TimedMark]) -> str:
    return next(_faults(list(run)), "")


def _faults(run: list[TimedMark]) -> Iterator[str]:
    starts = [mark for mark in run if mark.what == "start"]
    stops = [mark for mark in run if mark.what == "stop"]
    if not starts:
        yield "The start is not marked."
    if not stops:
        yield "The end is not marked."
    if len(stops) > 1:
        apart = stops[-1].t_s - stops[0].t_s
        yield f"The end is marked {len(stops)} times, {apart:.1f} s apart: take back what is wrong, or mark it anew."
    if starts and stops and stops[0].t_s - starts[0].t_s <= WIDE * apart_sigma(starts[0], stops[0]):
        yield "Start and end lie closer than their marks can tell apart."
