"""Claims of contacts: each belongs to one attempt at one checkpoint, counts once confirmed, and goes when denied."""

from dataclasses import replace

from service.domain.evidence import reading_of
from service.domain.job_state import Attempt, ClaimRecord, ContactClaim, ItemRecord, JobState
from service.domain.restricting import in_words, is_late
from service.domain.statements import Statement, contact_states
from service.domain.voiding import begin_attempt, put, void_conditions, with_attempt

MOVEMENTS = ("travel", "turns")
CLEAR = ("closed", "open")


def enter_in_attempt(state: JobState, claim: ClaimRecord) -> JobState:
    """Let a claim act on the attempt at its checkpoint before it is confirmed: withdraw, deny, begin anew."""
    step = str(claim.step)
    if state.pinned.procedure.step(step).checkpoint is None:
        return state
    if claim.statement.intent in MOVEMENTS:
        return begin_attempt(state, step, "The valve was moved or its place was stated again.")
    said = contact_states(claim.statement)
    if not said:
        return state
    attempt = state.attempt(step) or Attempt(1)
    for label, word in said.items():
        attempt = _say(attempt, label, word, negated=claim.statement.negated)
    return with_attempt(state, step, attempt)


def _say(attempt: Attempt, label: str, word: str, *, negated: bool) -> Attempt:
    claims, denied = dict(attempt.claims), dict(attempt.denied)
    if negated:
        denied[label] = word
        claims.pop(label, None)
    elif label in claims and claims[label].state != word:
        claims.pop(label)
    heard = attempt.said.get(label, ())
    said = put(attempt.said, label, (*heard, f"not {word}" if negated else word))
    return replace(attempt, claims=claims, denied=denied, said=said)


def confirm_contacts(state: JobState, claim: ClaimRecord) -> JobState:
    """Let the contacts of a confirmed claim count; mark those that changed after a reading was known."""
    said = contact_states(claim.statement)
    step = str(claim.step)
    attempt = state.attempt(step)
    if not said or attempt is None or state.pinned.procedure.step(step).checkpoint is None:
        return state
    read = [state.photos[item].read_seq for item in attempt.photos]
    known = [seq for seq in read if seq is not None and seq < claim.known_from]
    claims, denied = dict(attempt.claims), dict(attempt.denied)
    for label, word in said.items():
        changed = any(earlier != word for earlier in attempt.said.get(label, ()))
        claims[label] = ContactClaim(word, claim.item, claim.known_from, bool(known) and changed)
        denied.pop(label, None)
    return with_attempt(state, step, replace(attempt, claims=claims, denied=denied))


def restrict_contacts(state: JobState, item: ItemRecord) -> JobState:
    """Let a contact statement that comes late, or waits past a gap, act where it contradicts what stands."""
    statement, step = item.statement, item.entry.step
    if statement is None or statement.intent != "contact" or step not in state.pinned.expected:
        return state
    attempt = state.attempt(str(step))
    if attempt is None:
        return state
    against = [
        label
        for label, word in contact_states(statement).items()
        if _differs(state, attempt, label, word, statement)
    ]
    if not against:
        return state
    if is_late(state, item, str(step)):
        return _void_findings(state, item, statement, str(step))
    if not item.applied and state.is_open(str(step)):
        kept = {label: claim for label, claim in attempt.claims.items() if label not in against}
        return with_attempt(state, str(step), replace(attempt, claims=kept))
    return state


def _void_findings(state: JobState, item: ItemRecord, statement: Statement, step: str) -> JobState:
    names = [
        f"{step}/{need.id}"
        for need in state.pinned.procedure.step(step).needs
        if need.kind in ("findings", "record", "judgement")
    ]
    cause = (item.known_from or item.entry.seq, item.entry.id)
    because = f"It was said otherwise: {in_words(statement)}."
    state = void_conditions(state, names, because, cause, late=True)
    return begin_attempt(state, step, because)


def _differs(state: JobState, attempt: Attempt, label: str, word: str, statement: Statement) -> bool:
    """Return whether a statement contradicts the claim or the reading that stands for a contact."""
    claim = attempt.claims.get(label)
    read, _ = reading_of(state, attempt, label)
    standing = {state for state in (claim.state if claim else "none", read) if state in CLEAR}
    return word in standing if statement.negated else any(state != word for state in standing)
