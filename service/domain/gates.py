"""When a step passes and when a hold point may be released. Whatever cannot be shown to hold keeps the gate shut."""

from collections.abc import Sequence
from dataclasses import replace

from service.domain.derived import open_findings_of, why_no_evidence
from service.domain.device_lines import waiting_for
from service.domain.job_state import JobState, ReleaseRecord, StepState
from service.domain.people import MODES, Mode, must_be_independent, must_have_role
from service.domain.procedure import Step
from service.domain.refusals import Conflict, Held, Malformed, NotAllowed, NotFound, Outdated, Refusal
from service.domain.stroke_judged import open_strokes
from service.domain.voiding import put


def lacking(state: JobState, step: Step) -> tuple[str, ...]:
    """Return the names of the conditions of a step that are not met, in order."""
    return tuple(
        f"{step.id}/{need.id}"
        for need in step.needs
        if state.condition(f"{step.id}/{need.id}").status != "met"
    )


def _in_words(step: Step, names: Sequence[str]) -> str:
    """Return what conditions ask for, as people say it."""
    wanted = {name.rpartition("/")[2] for name in names}
    return "; ".join(need.says for need in step.needs if need.id in wanted)


def why_not_passed(state: JobState, step: Step) -> str | None:
    """Return why a plain step cannot pass, in words; None where it can."""
    if not state.opened or state.stopped:
        return "The job is stopped." if state.opened else "The job is not open."
    if step.hold_point:
        return "A hold point passes by its release."
    if not state.is_open(step.id):
        return "The step is not open."
    if waiting_for(state, step.id):
        return "Items of this step are still pending."
    missing = lacking(state, step)
    return f"Still open: {_in_words(step, missing[:1])}." if missing else None


def passed(state: JobState, step: str, seq: int) -> JobState:
    """Return the state with a step passed by an entry."""
    return replace(state, steps=put(state.steps, step, replace(state.step(step), passed=seq)))


def why_not_released(  # noqa: PLR0913 - a release is told by all of these
    state: JobState, step: str, person: str, head: str, mode: str, reason: str, *, fresh_sign_in: bool
) -> Refusal | None:
    """Return why a hold point may not be released by this person now, or None.

    (1) The step is a hold point of the procedure. (2) The job is open and not stopped. (3) The step is open.
    (4) The release names the newest entry. (5) The person has the role, freshly signed in, and is independent where
    that is demanded. (6) Nothing of the step is pending. (7) Every condition is met, or is evidence that a reason
    covers.
    """
    if step not in state.pinned.procedure.places:  # (1)
        return NotFound(f"The procedure has no step {step}.", field="step")
    gate = state.pinned.procedure.step(step)
    if not gate.hold_point or gate.released_by is None:
        return Conflict(f"{gate.title} is no hold point.", field="step")
    if not state.opened or state.stopped:  # (2)
        return Held("Work is stopped." if state.opened else "The job is not open.", field="step")
    if not state.is_open(step):  # (3)
        return Conflict(f"{gate.title} is not open.", field="step")
    if head != state.head:  # (4)
        return Outdated(
            "Something was recorded after what you saw.", field="head", hint="Look at it, then release."
        )
    return _why_not_by(state, gate, person, mode, fresh_sign_in) or _why_not_yet(state, gate, reason)


def release(state: JobState, step: str, record: ReleaseRecord) -> JobState:
    """Return the state with a hold point released and passed, the findings that its reason covers noted."""
    gate = state.pinned.procedure.step(step)
    waived = open_findings_of(state, gate)
    state = replace(
        state, steps=put(state.steps, step, StepState(record.seq, replace(record, waived=waived)))
    )
    if record.mode == "independent" and gate.independent:
        state = replace(state, judged=state.judged | {record.person})
    return state


def _why_not_by(
    state: JobState,
    gate: Step,
    person: str,
    mode: str,
    fresh_sign_in: bool,  # noqa: FBT001 - passed on as it came
) -> Refusal | None:
    known = state.pinned.person(person)
    try:
        must_have_role(known, gate.released_by or "verifier", f"release {gate.title}")  # (5)
        if mode not in MODES:
            return Malformed(f"A release is independent or concurrent, not {mode}.", field="mode")
        if not gate.independent:
            return None
        if not fresh_sign_in:
            return NotAllowed("Sign in afresh to release.", field="fresh_sign_in")
        if mode == "independent":
            must_be_independent(person, state.took_part, known.name if known else person)
        else:
            return _why_not_concurrent(state, gate, person)
        if _judged_in(state, gate, "concurrent") and not _judged_in(state, gate, "independent", every=True):
            return NotAllowed("What was judged concurrently is released as concurrent.", field="mode")
    except NotAllowed as refusal:
        return refusal
    return None


def _why_not_concurrent(state: JobState, gate: Step, person: str) -> Refusal | None:
    if _judged_in(state, gate, "concurrent", person, every=True):
        return None
    return NotAllowed("A concurrent release needs this person's own concurrent judgement.", field="mode")


def _judged_in(
    state: JobState, gate: Step, mode: Mode, person: str | None = None, *, every: bool = False
) -> bool:
    """Return whether checkpoints of a gate, any or every one, were judged in a mode, by a person where one is named."""
    attempts = [state.attempt(need.checkpoint or gate.id) for need in gate.needs if need.kind == "judgement"]
    judged = [
        attempt is not None
        and any(
            one.mode == mode and person in (None, one.person) and not one.faults for one in attempt.judgements
        )
        for attempt in attempts
    ]
    return bool(judged) and (all(judged) if every else any(judged))


def _why_not_yet(state: JobState, gate: Step, reason: str) -> Refusal | None:
    if waiting_for(state, gate.id):  # (6)
        return Held("Items of this step are still pending.", field="step")
    covered = {f"{gate.id}/{need.id}" for need in gate.needs if need.kind == "findings"}
    covered |= set(open_strokes(state, gate))
    missing = lacking(state, gate)
    hard = [name for name in missing if name not in covered]
    if hard:  # (7)
        return Held(f"Still open: {_in_words(gate, hard)}.", field="step")
    if not missing:
        return None
    for checkpoint in (need.checkpoint or gate.id for need in gate.needs if need.kind == "findings"):
        nothing = why_no_evidence(state, checkpoint)
        if nothing is not None:
            return Held(f"There is no evidence to release on: {nothing}.", field="step")
    if not reason.strip():
        return Held(
            f"{_what_is_open(gate)}: "
            + ", ".join(f"{where} {word}" for where, word in open_findings_of(state, gate).items())
            + ".",
            field="reason",
            hint="Say why it is released all the same, or hold it.",
        )
    return None


def _what_is_open(gate: Step) -> str:
    """Return what a reason would have to cover at a gate, in words."""
    judged = any(need.kind == "findings" for need in gate.needs)
    return "Not every finding is agreed" if judged else "The stroke is not as it should be"


def release_mode(mode: str) -> Mode:
    """Return the mode of a release; whatever is not concurrent is independent."""
    return "concurrent" if mode == "concurrent" else "independent"
