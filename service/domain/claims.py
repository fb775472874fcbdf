"""Statements in their turn: claims that wait for their read-back, confirmations, corrections.

Three-way communication: a statement is said, given back, and counts only once the same person has confirmed that what
was given back is right. "Correction" or "read back is wrong" takes it away again. What restricts has already acted
(`restricting`); here what permits waits.
"""

from dataclasses import replace

from service.domain.clip_doubts import why_in_doubt
from service.domain.contact_claims import confirm_contacts, enter_in_attempt
from service.domain.job_state import ClaimRecord, ConditionState, ItemRecord, JobState, claim_of
from service.domain.needs import expiry, meets, surely_stands, touching, why_not_taking_part
from service.domain.procedure import Condition
from service.domain.restricting import confirm_fact, is_late, restrict, restrict_in_turn
from service.domain.statements import Statement, contact_states, subject
from service.domain.stroke_marks import is_mark_of_stroke, take_mark
from service.domain.voiding import put, void_conditions, with_attempt, with_condition, with_effect

CONFIRMS = ("confirm", "read_back_right")
TAKES_BACK = ("correction", "read_back_wrong", "withdraw")


def take_statement(state: JobState, item: ItemRecord) -> JobState:
    """Apply a statement in its turn."""
    statement = item.statement
    if statement is None:
        return state
    state = restrict_in_turn(restrict(state, item), item)
    if statement.action in CONFIRMS:
        return _confirm(state, item)
    if statement.action in TAKES_BACK:
        return _take_back(state, item)
    if statement.intent == "control":
        return state
    if is_mark_of_stroke(state, item):
        return take_mark(state, item)
    return _claim(state, item, statement)


def waiting_read_backs(state: JobState, device: str | None = None) -> tuple[ClaimRecord, ...]:
    """Return the claims whose read-back nobody has confirmed yet, oldest first."""
    return tuple(
        claim
        for claim in state.claims.values()
        if claim.status == "pending" and device in (None, claim.device)
    )


def _claim(state: JobState, item: ItemRecord, statement: Statement) -> JobState:
    entry = item.entry
    record = claim_of(item, statement)
    doubt = why_in_doubt(entry)
    why = doubt or _why_without_effect(state, item)
    if why is not None:
        record = replace(record, status="without_effect", note=why)
        before = _superseded(state, record, echoes=doubt is not None)
        state = replace(state, claims=put(before, entry.id, record))
        return with_effect(state, entry.seq, why)
    if statement.negated:
        record = replace(record, status="acted", note="It restricts, so it acts without read-back.")
    state = replace(state, claims=put(_superseded(state, record), entry.id, record))
    return enter_in_attempt(state, record)


def _superseded(state: JobState, newer: ClaimRecord, *, echoes: bool = False) -> dict[str, ClaimRecord]:
    """Return the claims, those superseded by a newer statement that nobody had confirmed.

    What was said before the newest word on a subject can no longer be confirmed, whoever said it. `echoes`: the newer
    one may be the device's own read-back, so that saying the same again leaves a claim as it is.
    """

    def is_superseded(claim: ClaimRecord) -> bool:
        if claim.status != "pending" or (echoes and claim.statement == newer.statement):
            return False
        return _is_superseded(claim, newer)

    return {
        item: replace(claim, status="superseded") if is_superseded(claim) else claim
        for item, claim in state.claims.items()
    }


def _is_superseded(claim: ClaimRecord, newer: ClaimRecord) -> bool:
    said, then = claim.statement, newer.statement
    if "contact" in (said.intent, then.intent):
        return bool(contact_states(said).keys() & contact_states(then).keys())
    if subject(said.intent, said.slots) != subject(then.intent, then.slots):
        return False
    return claim.step == newer.step or newer.status != "without_effect" or said != then


def _why_without_effect(state: JobState, item: ItemRecord) -> str | None:
    """Return why a statement cannot count for its step, in words; None where it can."""
    step = item.entry.step
    if step is None or step not in state.pinned.procedure.places:
        return "It names no step of the procedure."
    if not state.is_open(step):
        if state.step(step).passed is None:
            return "Its step is not open yet."
        if is_late(state, item, step):
            return "It came after its step had passed; it counts only where it contradicts."
        return "It was made after its step had closed."
    return why_not_taking_part(state, item.entry.person, "technician" if _is_contact(item) else None)


def _is_contact(item: ItemRecord) -> bool:
    return item.statement is not None and item.statement.intent == "contact"


def _confirm(state: JobState, item: ItemRecord) -> JobState:
    doubt = why_in_doubt(item.entry)
    if doubt is not None:
        return with_effect(state, item.entry.seq, doubt)
    claim = _target(state, item)
    if claim is None or claim.status != "pending":
        return with_effect(state, item.entry.seq, "There is no read-back to confirm.")
    if not _was_given_back(claim, item):
        return with_effect(state, item.entry.seq, "It was said before the read-back could be given.")
    state = replace(state, claims=put(state.claims, claim.item, replace(claim, status="confirmed")))
    if claim.step is None or not state.is_open(claim.step):
        return with_effect(state, item.entry.seq, "Its step has closed.")
    state = confirm_fact(state, claim.statement)
    state = _meet(state, claim, item)
    return confirm_contacts(state, claim)


def _was_given_back(claim: ClaimRecord, item: ItemRecord) -> bool:
    """Return whether the device had the read-back when its owner confirmed it."""
    if not claim.spoken and claim.device == item.entry.device:
        return True
    known = item.entry.body.get("known_seq")
    return isinstance(known, int) and known >= claim.known_from


def _target(state: JobState, item: ItemRecord) -> ClaimRecord | None:
    """Return the claim that a confirmation or correction is about: the one named, or the newest of that device.

    A confirmation is about the last thing that was said, whatever became of it: after a denial there is nothing to
    confirm. A correction is about the last that still counts or may come to count.
    """
    answers = item.entry.body.get("answers")
    if answers is not None:
        claim = state.claims.get(str(answers))
        return claim if claim is not None and claim.person == item.entry.person else None
    mine = (
        claim
        for claim in reversed(list(state.claims.values()))
        if claim.device == item.entry.device and claim.person == item.entry.person
    )
    return next((claim for claim in mine if _may_be_meant(claim, item)), None)


def _may_be_meant(claim: ClaimRecord, item: ItemRecord) -> bool:
    if item.statement is not None and item.statement.action in CONFIRMS:
        return True
    return claim.status in ("pending", "confirmed", "acted") or claim.taken_by == item.entry.id


def _meet(state: JobState, claim: ClaimRecord, item: ItemRecord) -> JobState:
    """Let a confirmed claim meet the conditions of its step that it fits."""
    for step, need, name in touching(state, claim.statement):
        if step.id != claim.step:
            continue
        if _tallies(need, claim.statement):
            state = _add_to_tally(state, name, claim)
        elif meets(need, claim.statement):
            state = _meet_one(state, need, name, claim, item)
    return state


def _meet_one(state: JobState, need: Condition, name: str, claim: ClaimRecord, item: ItemRecord) -> JobState:
    why = _why_not_by_this_person(state, need, claim.person)
    if why is None and not all(surely_stands(state, pattern) for pattern in need.only_while):
        why = f"{need.says}: what it depends on does not stand."
    value = claim.statement.slots.get(need.limits.slot if need.limits else "value")
    tally = state.condition(name).value
    if why is None and need.kind == "value" and state.condition(name).because == "tally" and tally != value:
        why = f"{tally} were counted so far, {value} were said in all."
    if why is not None:
        return with_effect(state, item.entry.seq, why)
    expires = expiry(need, claim.statement, item.entry.received)
    met = ConditionState("met", item.entry.seq, claim.item, claim.person, "", value, expires)
    state = replace(state, owners=put(state.owners, name, claim.person))
    return with_condition(state, name, met)


def _why_not_by_this_person(state: JobState, need: Condition, person: str) -> str | None:
    role = need.by_role or "technician"
    known = state.pinned.person(person)
    if known is None or role not in known.roles:
        return f"{need.says}: only a {role} of this job can say it."
    if need.same_person_as is not None and state.owner(need.same_person_as) != person:
        return f"{need.says}: only the person who did the first can do this."
    return None


def _tallies(need: Condition, statement: Statement) -> bool:
    more = statement.slots.get("more")
    counts = isinstance(more, int | float) and not isinstance(more, bool)
    return need.kind == "value" and statement.intent == "turns" and counts


def _add_to_tally(state: JobState, name: str, claim: ClaimRecord) -> JobState:
    before = state.condition(name)
    counted = (before.value or 0) + claim.statement.slots["more"] if before.because == "tally" else None
    total = claim.statement.slots["more"] if counted is None else counted
    return with_condition(
        state, name, ConditionState("unmet", claim.known_from, claim.item, None, "tally", total)
    )


def _take_back(state: JobState, item: ItemRecord) -> JobState:
    claim = _target(state, item)
    if claim is None:
        return with_effect(state, item.entry.seq, "There is nothing to take back.")
    cause = (item.known_from or item.entry.seq, item.entry.id)
    return withdraw(state, claim.item, "It was taken back.", cause)


def take_back_early(state: JobState, item: ItemRecord) -> JobState:
    """Let a correction that waits past a gap act on what it can be about; in its turn it acts once more."""
    if item.statement is None or item.applied or item.statement.action not in TAKES_BACK:
        return state
    return _take_back(state, item)


def withdraw(state: JobState, item: str, because: str, cause: tuple[int, str]) -> JobState:
    """Take a claim away, with the conditions that it met and whatever rests on those."""
    claim = state.claims.get(item)
    mark = state.marks.get(item)
    if claim is None or (claim.status not in ("pending", "confirmed") and (mark is None or mark.gone)):
        return state
    if mark is not None:
        state = replace(state, marks=put(state.marks, item, replace(mark, gone=because)))
    state = replace(
        state,
        claims=put(state.claims, item, replace(claim, status="withdrawn", note=because, taken_by=cause[1])),
    )
    met = [name for name, condition in state.conditions.items() if condition.item == item]
    step = str(claim.step)
    late = state.step(step).passed is not None
    state = void_conditions(state, met, because, cause, late=late)
    attempt = state.attempt(step)
    if attempt is None:
        return state
    kept = {label: one for label, one in attempt.claims.items() if one.item != item}
    return with_attempt(state, step, replace(attempt, claims=kept))
