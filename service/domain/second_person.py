"""The second person: judges a checkpoint blind, then agrees, disagrees or asks for another photo.

Each judgement is identity, required state and seen state (DOE-EM-STD-5505-96, 6.10). A concurrent check, where there is
no signal, is recorded as concurrent and never as independent.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, cast

from service.domain.entries import Entry
from service.domain.evidence import counted_photos, reading_of
from service.domain.job_state import Attempt, JobState, JudgementRecord
from service.domain.people import Mode, must_be_independent, must_have_role
from service.domain.refusals import Conflict, Malformed, NotAllowed, Refusal
from service.domain.statements import plain_tag
from service.domain.voiding import begin_attempt, with_attempt, with_effect

CLEAR = ("closed", "open")
OPINIONS = ("agree", "disagree", "another_photo")


def why_may_not_judge(state: JobState, person: str, step: str, mode: str) -> Refusal | None:
    """Return why a person may not judge a checkpoint now, or None.

    (1) The step is a checkpoint that is judged, open or passed, its release still to come. (2) The person is a
    verifier of the job. (3) For an independent judgement the person took no part; for a concurrent one the site
    allows it and the person said nothing that is judged here. (4) There is something to judge.
    """
    if not to_be_judged(state, step):  # (1)
        return Conflict("This is no checkpoint that is to be judged now.", field="step")
    person_here = state.pinned.person(person)
    name = person_here.name if person_here else person
    try:
        must_have_role(person_here, "verifier", "judge")  # (2)
        if mode == "independent":
            must_be_independent(person, state.took_part, name)  # (3)
    except NotAllowed as refusal:
        return refusal
    attempt = state.attempt(step)
    if mode == "concurrent":
        if not state.pinned.rules.concurrent_allowed:
            return NotAllowed("This site allows no concurrent check.", field="mode")
        if person in _speakers(state, step):
            return NotAllowed(f"{name} said or photographed what is judged here.", field="person")
    elif mode != "independent":
        return Malformed(f"A check is independent or concurrent, not {mode}.", field="mode")
    if attempt is None or not counted_photos(state, attempt):  # (4)
        return Conflict("There is no photo to judge yet.", field="step")
    return None


def to_be_judged(state: JobState, checkpoint: str) -> bool:
    """Return whether a judgement of a checkpoint is asked for by a step that has not passed, and may be given."""
    if checkpoint not in state.pinned.expected:
        return False
    if state.step(checkpoint).passed is None and not state.is_open(checkpoint):
        return False
    return any(
        need.kind == "judgement"
        and (need.checkpoint or step.id) == checkpoint
        and state.step(step.id).passed is None
        for step, need in state.pinned.derived
    )


def take_judgement(state: JobState, entry: Entry) -> JobState:
    """Add a judgement to the newest attempt, with whatever is wrong with it."""
    body = entry.body
    step, person, mode = str(body.get("step")), entry.person or "", str(body.get("mode", "independent"))
    why = why_may_not_judge(state, person, step, mode)
    attempt = state.attempt(step)
    if why is not None or attempt is None:
        return with_effect(state, entry.seq, why.message if why else "There is nothing to judge.")
    required, seen = _states(body.get("required")), _states(body.get("seen"))
    blind = bool(body.get("blind"))
    record = JudgementRecord(
        seq=entry.seq,
        person=person,
        mode=cast("Mode", mode),
        blind=blind,
        tag=str(body.get("tag", "")),
        required=required,
        seen=seen,
        photos=counted_photos(state, attempt),
    )
    record = replace(record, faults=_faults(state, attempt, step, record))
    if mode == "independent":
        state = replace(state, judged=state.judged | {person})
    state = with_attempt(state, step, replace(attempt, judgements=(*attempt.judgements, record)))
    return with_effect(state, entry.seq, "; ".join(record.faults)) if record.faults else state


def why_no_opinion(state: JobState, person: str, step: str, opinion: str) -> Refusal | None:
    """Return why an opinion cannot be given, or None. Another photo may be asked for before judging."""
    if opinion not in OPINIONS:
        return Malformed(f"An opinion is one of {', '.join(OPINIONS)}.", field="opinion")
    attempt = state.attempt(step)
    if attempt is None or not to_be_judged(state, step):
        return Conflict("This is no checkpoint that is to be judged now.", field="step")
    if opinion == "another_photo":
        return why_may_not_judge(state, person, step, _mode_of(attempt, person))
    if not any(judgement.person == person for judgement in attempt.judgements):
        return Conflict("Judge first, then agree or disagree.", field="opinion")
    return None


def take_opinion(state: JobState, entry: Entry) -> JobState:
    """Let an opinion follow the judgement of the same person; anything but agreement begins a new attempt."""
    step, person, opinion = str(entry.step), entry.person or "", str(entry.body.get("opinion"))
    why = why_no_opinion(state, person, step, opinion)
    attempt = state.attempt(step)
    if why is not None or attempt is None:
        return with_effect(state, entry.seq, why.message if why else "There is no attempt.")
    judgements = tuple(
        replace(judgement, opinion=opinion) if judgement is _newest_of(attempt, person) else judgement
        for judgement in attempt.judgements
    )
    state = with_attempt(state, step, replace(attempt, judgements=judgements))
    if opinion == "agree":
        return state
    return begin_attempt(state, step, f"The second person said: {opinion.replace('_', ' ')}.")


def _faults(state: JobState, attempt: Attempt, step: str, given: JudgementRecord) -> tuple[str, ...]:
    """Return what keeps a judgement from counting: identity, required state, seen state, blindness."""
    judged, expected = state.pinned.judged(step), state.pinned.expected[step]
    faults = []
    if plain_tag(given.tag) != plain_tag(state.pinned.valve.tag):
        faults.append(f"the tag read is {given.tag or 'missing'}")
    wrong = [label for label in judged if given.required.get(label) != expected[label]]
    if wrong:
        faults.append(f"the required state of contact {wrong[0]} is not the chart's")
    for label in judged:
        read, _ = reading_of(state, attempt, label)
        shown = {expected[label], read if read in CLEAR else expected[label]}
        if given.seen.get(label) not in shown:
            faults.append(f"contact {label} was seen {given.seen.get(label, 'not at all')}")
    if given.mode == "independent" and not given.blind:
        faults.append("the judgement was not blind")
    return tuple(faults)


def _states(value: Any) -> Mapping[str, str]:  # noqa: ANN401 - JSON as it came
    if not isinstance(value, Mapping):
        return {}
    return {str(label): str(word) for label, word in value.items()}


def _speakers(state: JobState, step: str) -> set[str]:
    return {
        str(item.entry.person)
        for item in state.items.values()
        if item.entry.step == step and item.entry.person is not None
    }


def _mode_of(attempt: Attempt, person: str) -> str:
    newest = _newest_of(attempt, person)
    return newest.mode if newest else "independent"


def _newest_of(attempt: Attempt, person: str) -> JudgementRecord | None:
    return next((one for one in reversed(attempt.judgements) if one.person == person), None)
