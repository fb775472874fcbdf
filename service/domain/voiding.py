"""What becomes void, and what goes with it: a step that had passed opens again, and so does what rests on it."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TypeVar

from service.domain.job_state import Attempt, ConditionState, JobState, StepState, Trouble

K = TypeVar("K")
V = TypeVar("V")


def put(mapping: Mapping[K, V], key: K, value: V) -> dict[K, V]:
    """Return the mapping with one value set; the mapping given stays as it is."""
    return {**mapping, key: value}


def with_condition(state: JobState, name: str, condition: ConditionState) -> JobState:
    """Return the state with one condition set."""
    return replace(state, conditions=put(state.conditions, name, condition))


def with_effect(state: JobState, seq: int, words: str) -> JobState:
    """Return the state with a note on what an entry did, or why it did nothing."""
    before = state.effects.get(seq)
    return replace(state, effects=put(state.effects, seq, f"{before} {words}" if before else words))


def with_attempt(state: JobState, step: str, attempt: Attempt) -> JobState:
    """Return the state with the newest attempt at a checkpoint replaced, or added where its number is new."""
    attempts = state.attempts.get(step, ())
    kept = attempts[:-1] if attempts and attempts[-1].number == attempt.number else attempts
    return replace(state, attempts=put(state.attempts, step, (*kept, attempt)))


def begin_attempt(state: JobState, step: str, why: str) -> JobState:
    """End the newest attempt at a checkpoint, unless nothing happened in it, and begin another."""
    newest = state.attempt(step)
    if newest is None:
        return with_attempt(state, step, Attempt(1))
    if not (newest.said or newest.denied or newest.photos or newest.judgements):
        return state
    state = with_attempt(state, step, replace(newest, ended=why))
    return with_attempt(state, step, Attempt(newest.number + 1))


def void_conditions(  # noqa: PLR0913 - what, why, by what, and how far, each by name
    state: JobState,
    names: Iterable[str],
    because: str,
    cause: tuple[int, str],
    *,
    late: bool = False,
    resting: bool = True,
) -> JobState:
    """Make conditions void, open their steps again where they had passed, and void whatever rests on those.

    `cause` is the seq and the identity of the entry that did it. `resting` False leaves what rests on it: it was true
    when it was relied on. Records one trouble where anything changed.
    """
    voided: list[str] = []
    for name in names:
        state = _void_one(state, name, because, cause, voided)
        step = name.partition("/")[0]
        if state.step(step).passed is not None:
            state = _reopen(state, step)
            for other in state.pinned.procedure.resting_on(step) if resting else ():
                state = _void_whole(state, other, because, cause, voided)
    return _with_trouble(state, voided, because, cause, late=late)


def void_steps(
    state: JobState, steps: Iterable[str], because: str, cause: tuple[int, str], *, late: bool = False
) -> JobState:
    """Make whole steps void, exactly those that are named, as an event of the procedure demands."""
    voided: list[str] = []
    for step in steps:
        state = _void_whole(state, step, because, cause, voided)
    return _with_trouble(state, voided, because, cause, late=late)


def _void_one(
    state: JobState, name: str, because: str, cause: tuple[int, str], voided: list[str]
) -> JobState:
    before = state.condition(name)
    if before.status == "void" and before.because == because:
        return state
    voided.append(name)
    return with_condition(
        state, name, ConditionState("void", cause[0], cause[1], None, because, before.value)
    )


def _void_whole(
    state: JobState, step: str, because: str, cause: tuple[int, str], voided: list[str]
) -> JobState:
    for need in state.pinned.procedure.step(step).needs:
        name = f"{step}/{need.id}"
        if state.condition(name).status == "met":
            state = _void_one(state, name, because, cause, voided)
    if step in state.attempts:
        state = begin_attempt(state, step, because)
    return _reopen(_without_marks(_without_pending(state, step, because), step, because, cause), step)


def _without_pending(state: JobState, step: str, because: str) -> JobState:
    """Withdraw what was said for a step and is not confirmed: it was said before the step became void."""
    pending = {
        item: replace(claim, status="withdrawn", note=because)
        for item, claim in state.claims.items()
        if claim.step == step and claim.status == "pending"
    }
    return replace(state, claims={**state.claims, **pending}) if pending else state


def _without_marks(state: JobState, step: str, because: str, cause: tuple[int, str]) -> JobState:
    """Let the marks of a void stroke count no longer, nor any that was made before its device knew that it is void."""
    if not any(need.kind == "stroke" for need in state.pinned.procedure.step(step).needs):
        return state
    marks = {
        item: replace(mark, gone=because) if mark.step == step and not mark.gone else mark
        for item, mark in state.marks.items()
    }
    return replace(state, marks=marks, stroke_floors=put(state.stroke_floors, step, cause[0]))


def _reopen(state: JobState, step: str) -> JobState:
    return replace(state, steps=put(state.steps, step, StepState()))


def _with_trouble(
    state: JobState, voided: list[str], because: str, cause: tuple[int, str], *, late: bool
) -> JobState:
    if not voided:
        return state
    trouble = Trouble(cause[0], cause[1], because, tuple(voided), late)
    return replace(state, troubles=(*state.troubles, trouble))
