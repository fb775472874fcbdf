"""The paired looks of one job: second person against technician and reader, technician against reader.

Only a judgement that was blind and independent is a second look; a claim counts if it stood before the judgement, and
against the reader only if it was not changed once the reading was known. Where one of two says neither closed nor
open there is no pair.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from service.domain.evidence import reading_of
from service.domain.job_state import Attempt, JobState, JudgementRecord
from service.domain.second_look import ANSWERS, Look

COMPARED = ("second person and technician", "second person and reader", "technician and reader")


@dataclass(frozen=True)
class JobLooks:
    """The pairs of one job for each two that are compared, how many judgements were left out, by reason; opinions.

    `opinions` counts what second persons said after their judgements: agree, disagree, another photo, or nothing.
    """

    pairs: Mapping[str, tuple[Look, ...]]
    left_out: Mapping[str, int]
    opinions: Mapping[str, int]


def looks_of(state: JobState) -> JobLooks:
    """Return the paired looks of every attempt at every checkpoint of a job."""
    pairs: dict[str, list[Look]] = {name: [] for name in COMPARED}
    left_out: Counter[str] = Counter()
    opinions: Counter[str] = Counter()
    for step, attempts in state.attempts.items():
        for attempt in attempts:
            pairs["technician and reader"] += _claims_and_reading(state, step, attempt)
            for number, judgement in enumerate(attempt.judgements):
                opinions[(judgement.opinion or "none given").replace("_", " ")] += 1
                reason = _why_no_second_look(judgement)
                if reason:
                    left_out[reason] += 1
                    continue
                pairs["second person and technician"] += _against_claims(state, step, attempt, number)
                pairs["second person and reader"] += _against_reading(state, step, attempt, number)
    return JobLooks({name: tuple(found) for name, found in pairs.items()}, dict(left_out), dict(opinions))


def _why_no_second_look(judgement: JudgementRecord) -> str | None:
    if judgement.mode != "independent":
        return "judgements made concurrently"
    return None if judgement.blind else "judgements not blind"


def _against_claims(state: JobState, step: str, attempt: Attempt, number: int) -> Iterator[Look]:
    judgement = attempt.judgements[number]
    for label, seen in judgement.seen.items():
        claim = attempt.claims.get(label)
        if claim is not None and claim.seq < judgement.seq:
            yield from _pair(state, step, f"{attempt.number}/{number}", label, claim.state, seen)


def _against_reading(state: JobState, step: str, attempt: Attempt, number: int) -> Iterator[Look]:
    for label, seen in attempt.judgements[number].seen.items():
        read, _ = reading_of(state, attempt, label)
        yield from _pair(state, step, f"{attempt.number}/{number}", label, read, seen)


def _claims_and_reading(state: JobState, step: str, attempt: Attempt) -> Iterator[Look]:
    for label, claim in attempt.claims.items():
        if not claim.changed_after_reading:
            read, _ = reading_of(state, attempt, label)
            yield from _pair(state, step, str(attempt.number), label, claim.state, read)


def _pair(  # noqa: PLR0913 - where, which look, which contact, and the two answers
    state: JobState, step: str, look: str, label: str, first: str, second: str
) -> Iterator[Look]:
    known = {contact.label: contact.rotor for contact in state.pinned.chart.contacts}
    if label in known and first in ANSWERS and second in ANSWERS:
        yield Look(label, step, f"{state.pinned.job}/{step}/{look}/{known[label]}", first, second)
