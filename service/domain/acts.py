"""Acts of signed-in people and definitions that change: stop, resume, break, handover, gaps given up."""

from dataclasses import replace

from service.domain.device_lines import give_up
from service.domain.entries import Entry
from service.domain.gates import passed, release, release_mode, why_not_passed, why_not_released
from service.domain.happening import let_happen
from service.domain.job_state import JobState, ReleaseRecord
from service.domain.people import must_have_role, must_not_have_judged
from service.domain.refusals import Malformed, NotAllowed, NotFound, Refusal
from service.domain.restricting import stop
from service.domain.voiding import with_effect


def take_stop(state: JobState, entry: Entry) -> JobState:
    """Hold the job; anyone may."""
    may = entry.body.get("may_resume")
    named = tuple(str(person) for person in may) if isinstance(may, list | tuple) else ()
    return stop(state, entry.seq, entry.id, entry.person, str(entry.body.get("reason", "")), named)


def why_not_resumed(state: JobState, person: str, seq: int, reason: str) -> Refusal | None:
    """Return why a person may not resume work, or None: whoever stopped it or is named there, with a reason."""
    hold = next((hold for hold in state.holds if hold.seq == seq), None)
    if hold is None:
        return NotFound("No such stop stands.", field="stop")
    if person != hold.person and person not in hold.may_resume:
        return NotAllowed(
            "Only whoever stopped the work, or a person named there, may resume it.", field="person"
        )
    if not reason.strip():
        return Malformed("Say why work may go on.", field="reason")
    return None


def take_resume(state: JobState, entry: Entry) -> JobState:
    """Lift one stop."""
    seq, reason = entry.body.get("stop"), str(entry.body.get("reason", ""))
    why = why_not_resumed(state, entry.person or "", seq if isinstance(seq, int) else -1, reason)
    if why is not None:
        return with_effect(state, entry.seq, why.message)
    return replace(state, holds=tuple(hold for hold in state.holds if hold.seq != seq))


def take_break(state: JobState, entry: Entry) -> JobState:
    """Let a break or change of shift void what does not outlast it."""
    return let_happen(state, "break_taken", (entry.seq, entry.id))


def why_not_handed_over(state: JobState, giver: str, to: str) -> Refusal | None:
    """Return why a person cannot hand the job to another, or None."""
    person, by = state.pinned.person(to), state.pinned.person(giver)
    if by is None or not by.roles & {"technician", "administrator"}:
        return NotAllowed("Only a technician or administrator of the job hands it over.", field="person")
    try:
        must_have_role(person, "technician", "take the job over")
        must_not_have_judged(to, state.judged, person.name if person else to)
    except NotAllowed as refusal:
        return refusal
    return None


def take_handover(state: JobState, entry: Entry) -> JobState:
    """Hand the job to another technician; both took part."""
    to = str(entry.body.get("to"))
    why = why_not_handed_over(state, entry.person or "", to)
    state = let_happen(state, "handed_over", (entry.seq, entry.id))
    if why is not None:
        return with_effect(state, entry.seq, why.message)
    both = {person for person in (entry.person, to) if person}
    return replace(state, technician=to, took_part=state.took_part | both)


def take_gap(state: JobState, entry: Entry) -> JobState:
    """Go on past items that will never come."""
    up_to = entry.body.get("up_to")
    if not isinstance(up_to, int) or not str(entry.body.get("reason", "")).strip():
        return with_effect(state, entry.seq, "It does not say up to where, or why.")
    return give_up(state, str(entry.body.get("device")), up_to)


def take_definition_change(state: JobState, entry: Entry) -> JobState:
    """Hold the job over a changed definition until whoever recorded the change resumes it with a reason."""
    what = f"A definition changed: {entry.body.get('what')}."
    state = stop(state, entry.seq, entry.id, entry.person, what, ())
    return let_happen(state, "definition_changed", (entry.seq, entry.id))


def take_pass(state: JobState, entry: Entry) -> JobState:
    """Let a plain step pass if it can; an entry that says so changes nothing where it cannot."""
    step = str(entry.body.get("step"))
    if step not in state.pinned.procedure.places:
        return with_effect(state, entry.seq, "The procedure has no such step.")
    why = why_not_passed(state, state.pinned.procedure.step(step))
    return passed(state, step, entry.seq) if why is None else with_effect(state, entry.seq, why)


def take_release(state: JobState, entry: Entry) -> JobState:
    """Release a hold point if that may be; an entry that says so changes nothing where it may not."""
    body, person = entry.body, entry.person or ""
    step, mode, reason = (
        str(body.get("step")),
        str(body.get("mode", "independent")),
        str(body.get("reason") or ""),
    )
    fresh = body.get("fresh_sign_in") is True
    why = why_not_released(state, step, person, str(body.get("head")), mode, reason, fresh_sign_in=fresh)
    if why is not None:
        return with_effect(state, entry.seq, why.message)
    return release(state, step, ReleaseRecord(entry.seq, person, release_mode(mode), reason))
