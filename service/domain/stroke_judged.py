"""The strokes of a job, judged: their marks against the rehearsal, the other strokes, what was said, and the duty.

A stroke is judged once start and end are marked (or its time is stated) and the stop and the lamps that its step asks
for are confirmed. The same marks give the same judgement, in whatever order they came. What differs holds the step:
the stroke is marked anew, or the step is released with a reason.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from service.domain.circuits import Known, lamps_at
from service.domain.expected import possibly_tripped
from service.domain.job_state import ClaimRecord, JobState
from service.domain.motor import duty_questions
from service.domain.present_travel import Place
from service.domain.procedure import Step, stop_need, stroke_direction, stroke_need
from service.domain.refusals import BadDefinition
from service.domain.rehearsal import Rehearsal
from service.domain.stroke import CHANGE_SHARE, MARK_SIGMA_S, WIDE, Compared, Mark, Remark, judge
from service.domain.stroke_expected import lamps_said, place_at_start, rehearsed_from, stated_time, whole_runs
from service.domain.stroke_marks import Run, TimedMark, apart_sigma, runs_from, runs_of
from service.domain.stroke_zones import end_of
from service.domain.travel import Direction, Travel, opposite

Verdict = Literal["fits", "differs"]
END_WORDS: Mapping[Direction, str] = {"closed": "closed end", "open": "open end"}


@dataclass(frozen=True, slots=True)
class JudgedStroke:
    """One stroke of a step and what is said of it; `lacking` names what must come before it can be judged.

    Times in seconds with their standard deviations, travel in percent. `number` counts the runs of the step from 1;
    `stated_s` is the time that somebody said, where nothing was marked.
    """

    step: str
    number: int
    direction: Direction
    run: Run
    took_s: float | None = None
    sigma_s: float | None = None
    stated_s: float | None = None
    expected_s: float | None = None
    expected_sigma_s: float | None = None
    from_pct: float | None = None
    from_sigma_pct: float | None = None
    stopped_by: str | None = None
    remarks: tuple[Remark, ...] = ()
    lacking: tuple[str, ...] = ()

    @property
    def verdict(self) -> Verdict | None:
        """Whether anything differs; None while it is not judged."""
        if self.lacking:
            return None
        return "differs" if self.differing else "fits"

    @property
    def differing(self) -> tuple[str, ...]:
        """The sentences on what differs."""
        return tuple(remark.sentence for remark in self.remarks if remark.standing == "differs")


def judged_stroke(state: JobState, step_id: str) -> JudgedStroke | None:
    """Return the newest stroke of a step, judged as far as it can be; None where none is asked for or none began."""
    step = state.pinned.procedure.step(step_id)
    direction = stroke_direction(step)
    if stroke_need(step) is None or direction is None:
        return None
    runs = runs_of(state, step_id)
    stated = stated_time(state, step)
    if not runs and stated is None:
        return None
    run = runs[-1] if runs else Run((), "")
    return _Judge(state, step, direction, run, max(1, len(runs)), stated).judged()


def every_stroke(state: JobState, step_id: str) -> tuple[JudgedStroke, ...]:
    """Return every run of a step that was marked, those that no longer count among them, in the order of time.

    Only the newest that counts is judged; of the others marks and time are told, and why they do not count.
    """
    newest = judged_stroke(state, step_id)
    direction = stroke_direction(state.pinned.procedure.step(step_id))
    if direction is None:
        return ()
    marks = [mark for mark in state.marks.values() if mark.step == step_id]
    told = [(run, "A later stroke of this step counts.") for run in runs_of(state, step_id)[:-1]]
    for reason in dict.fromkeys(mark.gone for mark in marks if mark.gone):
        told += [(run, reason) for run in runs_from(mark for mark in marks if mark.gone == reason)]
    strokes = [
        replace(_timed(JudgedStroke(step_id, 0, direction, run), run.took()), lacking=(reason,))
        for run, reason in told
    ]
    if newest is not None:
        strokes.append(newest)
    strokes.sort(key=lambda one: one.run.marks[0].t_s if one.run.marks else math.inf)
    return tuple(replace(one, number=number) for number, one in enumerate(strokes, 1))


def why_stroke_not_met(state: JobState, step: Step) -> str | None:
    """Return why the stroke of a step is not in order, in words; None where it is, or a release's reason covers it."""
    judged = judged_stroke(state, step.id)
    if judged is None:
        return "start and end are not marked"
    if judged.lacking:
        return judged.lacking[0][:1].lower() + judged.lacking[0][1:].rstrip(".")
    if judged.verdict == "differs" and not is_covered(state, step):
        return " ".join(judged.differing)
    return None


def is_covered(state: JobState, step: Step) -> bool:
    """Return whether the step was released with a reason although its stroke differs."""
    need, released = stroke_need(step), state.step(step.id).released
    return bool(need and released and released.waived.get(f"{step.id}/{need.id}") == "differs")


def open_strokes(state: JobState, step: Step) -> dict[str, str]:
    """Return, as "step/condition" to verdict, the stroke of a step that was judged and differs; else nothing."""
    need = stroke_need(step)
    judged = judged_stroke(state, step.id) if need else None
    if need is None or judged is None or judged.verdict != "differs":
        return {}
    return {f"{step.id}/{need.id}": "differs"}


class _Judge:
    """Judges one run of a step."""

    def __init__(  # noqa: PLR0913 - a run is judged from all of these
        self, state: JobState, step: Step, direction: Direction, run: Run, number: int, stated: float | None
    ) -> None:
        self.state, self.step, self.direction, self.run = state, step, direction, run
        self.number, self.stated = number, stated
        took = run.took()
        if not run.marks and stated is not None:
            took = (stated, math.hypot(MARK_SIGMA_S["tapped"], MARK_SIGMA_S["tapped"]))
        self.took = took

    def judged(self) -> JudgedStroke:
        """Return the stroke with what is said of it."""
        lacking = tuple(self._lacking())
        stroke = replace(
            _timed(JudgedStroke(self.step.id, self.number, self.direction, self.run), self.took),
            stated_s=self.stated,
            stopped_by=self._stopped_by(),
            lacking=lacking,
        )
        if lacking or self.took is None:
            return stroke
        place = place_at_start(self.state, self.step.id, self.run)
        rehearsal = rehearsed_from(self.state, self.direction, place)
        due = None if rehearsal is None else (rehearsal.time_of("standstill") or rehearsal.time_of("end"))
        return replace(
            stroke,
            expected_s=None if due is None else due.t_s,
            expected_sigma_s=None if due is None else due.sigma_s,
            from_pct=None if place is None else place.pct,
            from_sigma_pct=None if place is None else place.sigma_pct,
            remarks=tuple(self._remarks(rehearsal, place)),
        )

    def _lacking(self) -> Iterator[str]:
        if self.run.fault:
            yield self.run.fault
        for need in self.step.needs:
            asked = need.pattern is not None and need.pattern.intent in ("trip", "lamp")
            if asked and self.state.condition(f"{self.step.id}/{need.id}").status != "met":
                yield f"Not confirmed yet: {need.says}."

    def _remarks(self, rehearsal: Rehearsal | None, place: Place | None) -> Iterator[Remark]:
        given = judge(rehearsal, self._marks(), self._compared(place))
        yield from (one for one in given if one.topic != "resolution")
        yield from self._said_stop(rehearsal)
        yield from self._lamps_at_the_end(rehearsal)
        yield from self._stated_against_marked()
        yield from self._duty()
        yield from (one for one in given if one.topic == "resolution")

    def _marks(self) -> list[Mark]:
        start = self.run.one("start")
        if start is None or self.took is None:
            half = MARK_SIGMA_S["tapped"]
            return [
                Mark("start", 0.0, "tapped", half),
                Mark("stop", self.took[0] if self.took else 0.0, "tapped", half),
            ]
        return [
            Mark(self._lamp_name(mark.what), mark.t_s - start.t_s, mark.how, _own_sigma(start, mark))
            for mark in self.run.marks
            if mark.what not in ("moving", "moment")
        ]

    def _lamp_name(self, what: str) -> str:
        """Return what a mark is of, a lamp by the name that the circuits give it where its colour is spoken."""
        circuits, words = self.state.pinned.circuits, what.split(" ", 2)
        if circuits is None or words[0] != "lamp":
            return what
        named = [lamp.name for lamp in circuits.lamps if words[1] in (lamp.colour, lamp.name)]
        return f"lamp {named[0]} {words[2]}" if len(named) == 1 else what

    def _stopped_by(self) -> str | None:
        need = stop_need(self.step)
        claim = self._claim(f"{self.step.id}/{need.id}") if need else None
        return None if claim is None else str(claim.statement.slots.get("cause"))

    def _claim(self, name: str) -> ClaimRecord | None:
        known = self.state.condition(name)
        return self.state.claims.get(known.item or "") if known.status == "met" else None

    def _said_stop(self, rehearsal: Rehearsal | None) -> Iterator[Remark]:
        said = self._stopped_by()
        named = self.state.pinned.procedure.seats.get(self.direction, "limit")
        if said is None:
            return
        if said == named:
            words = f"It was said that the {said} stopped it, which the chart names at the {END_WORDS[self.direction]}."
            yield Remark("stopped_by", "fits", words)
        else:
            words = f"It was said that the {said} stopped it; the chart names the {named}."
            yield Remark("stopped_by", "differs", words)
        if rehearsal is not None and rehearsal.stopped_by not in (said, "does not start"):
            words = f"By the circuits {rehearsal.stopped_by} would stop it here, and {said} was said."
            yield Remark("stopped_by", "differs", words)

    def _lamps_at_the_end(self, rehearsal: Rehearsal | None) -> Iterator[Remark]:
        circuits, said = self.state.pinned.circuits, lamps_said(self.state, self.step)
        if circuits is None:
            return
        stands = rehearsal.time_of("standstill") if rehearsal else None
        at = Travel(end_of(self.direction) if stands is None else stands.travel_pct)
        history = (Travel(end_of(self.direction)), Travel(end_of(opposite(self.direction))))
        rotors = {rotor.id: possibly_tripped(rotor, at, history) for rotor in circuits.chart.rotors}
        due = lamps_at(circuits, Known(rotors))
        for lamp in circuits.lamps:
            lit, seen = due[lamp.name], said.get(lamp.colour, said.get(lamp.name))
            if lit is None or seen is None:
                continue
            word, wanted = ("lit" if seen else "dark"), ("lit" if lit else "dark")
            words = f"The {lamp.name} lamp is said to be {word} at the {END_WORDS[self.direction]}"
            if seen == lit:
                yield Remark("lamps", "fits", f"{words}, as the chart wants it.")
            else:
                yield Remark("lamps", "differs", f"{words}; the chart wants it {wanted}.")

    def _stated_against_marked(self) -> Iterator[Remark]:
        if self.stated is None or self.took is None or not self.run.marks:
            return
        apart, least = (
            abs(self.stated - self.took[0]),
            WIDE * math.hypot(self.took[1], MARK_SIGMA_S["tapped"]),
        )
        words = f"{self.stated:g} s were said, {self.took[0]:.1f} s were marked"
        if apart > least:
            yield Remark("time", "differs", f"{words}: more apart than the marks' doubt of {least:.1f} s.")
        else:
            yield Remark("time", "fits", f"{words}.")

    def _compared(self, place: Place | None) -> Compared:
        """Return the earlier strokes of the job to compare with: as long as this one, from as near a place."""
        if place is None or not self.run.marks or self.took is None:
            return Compared()
        same: list[tuple[float, float]] = []
        other: list[tuple[float, float]] = []
        for towards, run, at in self._earlier_runs():
            took, covered = run.took(), abs(end_of(towards) - at.pct)
            sigma = math.hypot(place.sigma_pct, at.sigma_pct)
            own = abs(end_of(self.direction) - place.pct)
            if took is None or covered <= 0.0 or abs(covered - own) > WIDE * sigma + 1.0:
                continue
            doubt = math.hypot(took[1], sigma / covered * took[0])
            (same if towards == self.direction else other).append((took[0], doubt))
        newest = other[-1] if other else None
        doubts = [doubt for _, doubt in (*same, *([newest] if newest else []))]
        return Compared(
            newest[0] if newest else None,
            tuple(one for one, _ in same),
            CHANGE_SHARE,
            max(doubts, default=0.0),
        )

    def _earlier_runs(self) -> Iterator[tuple[Direction, Run, Place]]:
        """Yield the whole runs of this job that began before this one, oldest first, with the place they began at."""
        own = self.run.one("start")
        found = []
        for towards, run in whole_runs(self.state):
            start = run.one("start")
            if own is None or start is None or start.items == own.items or start.t_s >= own.t_s:
                continue
            at = place_at_start(self.state, self.step.id, run)
            if at is not None and not _was_off(self.state, towards, run, at):
                found.append((start.t_s, towards, run, at))
        for _, towards, run, at in sorted(found, key=lambda one: one[0]):
            yield towards, run, at

    def _duty(self) -> Iterator[Remark]:
        """Say what the motor's plate asks of this run after the earlier ones of the job."""
        actuator, own = self.state.pinned.actuator, self.run.took()
        start = self.run.one("start")
        if actuator is None or own is None or start is None:
            return
        runs = []
        for _, run in whole_runs(self.state):
            began, took = run.one("start"), run.took()
            if began is not None and took is not None and began.t_s < start.t_s:
                runs.append((began.t_s, began.t_s + took[0]))
        runs.sort()
        try:
            before = set(duty_questions(runs, actuator.duty))
            asked = duty_questions([*runs, (start.t_s, start.t_s + own[0])], actuator.duty)
        except BadDefinition:
            yield Remark(
                "duty", "cannot_tell", "The strokes' times overlap, so the motor's duty cannot be told."
            )
            return
        for question in asked:
            if question not in before:
                yield Remark("duty", "differs", question)


def _was_off(state: JobState, towards: Direction, run: Run, place: Place) -> bool:
    """Return whether a run took another time than was expected of it: such a run is no measure for others."""
    rehearsal, took = rehearsed_from(state, towards, place), run.took()
    due = rehearsal.time_of("standstill") if rehearsal else None
    if due is None or took is None:
        return False
    return abs(took[0] - due.t_s) > WIDE * math.hypot(took[1], due.sigma_s)


def _timed(stroke: JudgedStroke, took: tuple[float, float] | None) -> JudgedStroke:
    return stroke if took is None else replace(stroke, took_s=took[0], sigma_s=took[1])


def _own_sigma(start: TimedMark, mark: TimedMark) -> float:
    """Return the standard deviation of a mark with the doubt of its clock against that of the start."""
    if mark is start:
        return mark.sigma_s
    return math.sqrt(max(0.0, apart_sigma(start, mark) ** 2 - start.sigma_s**2))
