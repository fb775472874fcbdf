"""Conditions that follow from others: findings, records, judgements, equal values. Worked out anew after each entry."""

from service.domain.evidence import counted_photos, findings, unread, usable_photo, waiting_photo_differs
from service.domain.job_state import ConditionState, JobState, JudgementRecord
from service.domain.procedure import Condition, Step
from service.domain.stroke_judged import open_strokes, why_stroke_not_met
from service.domain.voiding import void_conditions, with_condition


def derive(before: JobState, state: JobState, cause: tuple[int, str], *, late: bool = False) -> JobState:
    """Bring every derived condition up to date; one that was met and is no longer becomes void, with what rests on it.

    `before` is the state of which everything derived is known: only what has changed since is worked out anew.
    `cause` is the seq and identity of the entry after which this is done.
    """
    for _ in range(len(state.pinned.derived) + 1):
        start = state
        for step, need in state.pinned.derived:
            if _rests_on_other(before, state, step, need):
                state = _update(state, step, need, cause, late=late)
        if state is start:
            return state
    return state


def _rests_on_other(before: JobState, state: JobState, step: Step, need: Condition) -> bool:
    """Return whether anything that a derived condition follows from is another object than before."""
    name = f"{step.id}/{need.id}"
    if before.conditions.get(name) is not state.conditions.get(name):
        return True
    if need.kind == "stroke":
        return stroke_rests_on_other(before, state, step)
    if need.kind == "equal":
        return any(before.conditions.get(one) is not state.conditions.get(one) for one in need.equals)
    checkpoint = need.checkpoint or step.id
    return (
        before.attempts.get(checkpoint) is not state.attempts.get(checkpoint)
        or before.photos is not state.photos
        or before.steps.get(step.id) is not state.steps.get(step.id)
    )


def stroke_rests_on_other(before: JobState, state: JobState, step: Step) -> bool:
    """Return whether marks, the step, what it asks for, or while it is open any claim, is another than before."""
    if before.marks is not state.marks or before.steps.get(step.id) is not state.steps.get(step.id):
        return True
    names = [f"{step.id}/{need.id}" for need in step.needs]
    if any(before.conditions.get(name) is not state.conditions.get(name) for name in names):
        return True
    return before.claims is not state.claims and state.is_open(step.id)


def why_not_met(state: JobState, step: Step, need: Condition) -> str | None:
    """Return why a derived condition is not met, in words; None where it is."""
    if need.kind == "findings":
        return _why_findings(state, step, need.checkpoint or step.id)
    if need.kind == "record":
        return _why_record(state, need.checkpoint or step.id)
    if need.kind == "judgement":
        return _why_judgement(state, need.checkpoint or step.id)
    if need.kind == "stroke":
        return why_stroke_not_met(state, step)
    return _why_equal(state, need)


def open_findings(state: JobState, step: str) -> dict[str, str]:
    """Return the judged contacts of a checkpoint whose finding is not agreed, with the verdict."""
    judged = set(state.pinned.judged(step))
    return {
        finding.label: finding.verdict + (" (denied)" if finding.denied else "")
        for finding in findings(state, step)
        if finding.label in judged and not finding.satisfies
    }


def open_findings_of(state: JobState, gate: Step) -> dict[str, str]:
    """Return what a gate asks for and a reason may cover, by name, with its verdict.

    A finding that is not agreed is named "checkpoint/label", a stroke that differs "step/condition".
    """
    checkpoints = [need.checkpoint or gate.id for need in gate.needs if need.kind == "findings"]
    found = {
        f"{checkpoint}/{label}": word
        for checkpoint in checkpoints
        for label, word in open_findings(state, checkpoint).items()
    }
    return {**found, **open_strokes(state, gate)}


def why_no_evidence(state: JobState, step: str) -> str | None:
    """Return why a checkpoint has no evidence that a reason could cover, in words; None where it has."""
    attempt = state.attempt(step)
    if attempt is None or not counted_photos(state, attempt):
        return "there is no photo"
    if unread(state, attempt):
        return "a photo is still to be read"
    if waiting_photo_differs(state, step):
        return "a photo past a gap shows something else"
    return None


def _update(state: JobState, step: Step, need: Condition, cause: tuple[int, str], *, late: bool) -> JobState:
    name = f"{step.id}/{need.id}"
    before = state.condition(name)
    why = why_not_met(state, step, need)
    if why is None:
        if before.status == "met":
            return state
        return with_condition(state, name, ConditionState("met", cause[0], cause[1], None))
    if need.kind == "stroke":  # it can be off before it was ever met: late only once its step had passed
        late = late and state.step(step.id).passed is not None
    if before.status == "met" or (need.kind == "stroke" and open_strokes(state, step)):
        return void_conditions(state, (name,), f"{need.says}: {why.rstrip('.')}.", cause, late=late)
    return state


def _why_findings(state: JobState, step: Step, checkpoint: str) -> str | None:
    lacking = why_no_evidence(state, checkpoint)
    if lacking is not None:
        return lacking
    if not state.pinned.judged(checkpoint):
        return "the checkpoint judges no contact"
    released = state.step(step.id).released
    waived = released.waived if released else {}
    left = {
        label: word
        for label, word in open_findings(state, checkpoint).items()
        if waived.get(f"{checkpoint}/{label}") != word
    }
    if left:
        return ", ".join(f"contact {label} {word}" for label, word in left.items())
    return None


def _why_record(state: JobState, step: str) -> str | None:
    attempt = state.attempt(step)
    if attempt is None or not usable_photo(state, attempt):
        return "no photo could be read"
    if unread(state, attempt):
        return "a photo is still to be read"
    missing = [
        contact.label for contact in state.pinned.chart.contacts if contact.label not in attempt.claims
    ]
    return f"nothing was said of contact {missing[0]}" if missing else None


def _why_judgement(state: JobState, step: str) -> str | None:
    attempt = state.attempt(step)
    if attempt is None or not attempt.judgements:
        return "nobody has judged yet"
    photos = counted_photos(state, attempt)
    reasons = [_why_not_this(judgement, photos) for judgement in attempt.judgements]
    return None if None in reasons else reasons[-1]


def _why_not_this(judgement: JudgementRecord, photos: tuple[str, ...]) -> str | None:
    if judgement.faults:
        return "; ".join(judgement.faults)
    if judgement.photos != photos:
        return "another photo was taken after the judgement"
    if judgement.opinion != "agree":
        return "the second person has not agreed"
    return None


def _why_equal(state: JobState, need: Condition) -> str | None:
    values = []
    for name in need.equals:
        condition = state.condition(name)
        if condition.status != "met":
            return f"{name} is {condition.status}"
        values.append(condition.value)
    if any(_differ(value, values[0], need.tolerance) for value in values):
        return "the values differ: " + ", ".join(str(value) for value in values)
    return None


def _differ(one: object, other: object, tolerance: float) -> bool:
    if isinstance(one, int | float) and isinstance(other, int | float):
        return abs(one - other) > tolerance
    return one != other
