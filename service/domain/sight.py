"""What a person may be shown of a checkpoint, and whether a judgement was blind, from the log of what was served.

The technician sees what the chart expects only after claim and photo are stored; the second person sees no claim, no
reading, no finding and nothing computed for the checkpoint before the judgement is stored. Servings are counted by
person, over every role and device.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from service.domain.evidence import counted_photos
from service.domain.job_state import Attempt, JobState

Sight = Literal["photo", "travel", "claim", "reading", "finding", "expected", "judgement"]
SIGHTS: tuple[Sight, ...] = get_args(Sight)
PRIMING: tuple[Sight, ...] = ("claim", "reading", "finding", "expected")
PLAIN: tuple[Sight, ...] = ("photo", "travel")


@dataclass(frozen=True, slots=True)
class Served:
    """One serving: what was shown of which checkpoint and attempt, to whom, when the journal stood at `seq`."""

    person: str
    what: Sight
    step: str
    attempt: int
    seq: int


@dataclass(frozen=True, slots=True)
class Blindness:
    """Whether a judgement given now would be blind, and what this person has seen of the checkpoint.

    `saw` is of the present attempt and takes blindness away; `saw_before` is of earlier attempts, and is said beside
    the judgement.
    """

    blind: bool
    saw: tuple[str, ...]
    saw_before: tuple[str, ...]


def may_see(person: str, state: JobState, served: Iterable[Served] = ()) -> frozenset[str]:  # noqa: ARG001 - see below
    """Return what a person may be shown, as "what:checkpoint".

    Of several roles the one that must not be primed counts: whoever may still judge sees as the second person does,
    whoever took part sees as the technician does. What was served before widens nothing, which is why `served` changes
    no answer: a page that slipped once is no reason to slip again.
    """
    known = state.pinned.person(person)
    if known is None:
        return frozenset()
    sights: set[str] = set()
    for step in state.pinned.expected:
        sights |= {f"{what}:{step}" for what in _sights(state, person, step)}
    return frozenset(sights)


def blindness(state: JobState, step: str, person: str, served: Iterable[Served]) -> Blindness:
    """Return whether this person is blind to the newest attempt at a checkpoint."""
    attempt = state.attempt(step)
    number = attempt.number if attempt else 1
    mine = [one for one in served if one.person == person and one.step == step and one.what in PRIMING]
    committed = {one.number for one in state.attempts.get(step, ()) if _has_judged(one, person)}
    saw = tuple(sorted({one.what for one in mine if one.attempt >= number}))
    before = [one for one in mine if one.attempt < number]
    early = tuple(sorted({one.what for one in before if one.attempt not in committed}))
    said = tuple(sorted({f"{one.what} of attempt {one.attempt}" for one in before}))
    primed = tuple(dict.fromkeys((*saw, *(what for what in early if what == "expected"))))
    return Blindness(not primed, primed, said)


def _sights(state: JobState, person: str, step: str) -> tuple[Sight, ...]:
    known = state.pinned.person(person)
    roles = known.roles if known else frozenset()
    attempt = state.attempt(step)
    works_here = person in state.took_part or person == state.technician
    if "verifier" in roles and not works_here and not _is_released(state, step):
        return SIGHTS if attempt is not None and _has_judged(attempt, person) else PLAIN
    if works_here or "technician" in roles:
        return SIGHTS if _told(state, attempt, step) else ("photo", "travel", "claim")
    return SIGHTS if roles else ()


def _told(state: JobState, attempt: Attempt | None, step: str) -> bool:
    """Return whether claim and photo of every judged contact are stored, so that the technician may be told."""
    if attempt is None or not counted_photos(state, attempt):
        return False
    return all(label in attempt.said for label in state.pinned.judged(step))


def _is_released(state: JobState, step: str) -> bool:
    """Return whether the last independent release has been given, so that nobody is left to be primed."""
    gates = [gate.id for gate in state.pinned.procedure.steps if gate.independent] or [step]
    return all(state.step(gate).passed is not None for gate in gates)


def _has_judged(attempt: Attempt, person: str) -> bool:
    return any(judgement.person == person for judgement in attempt.judgements)
