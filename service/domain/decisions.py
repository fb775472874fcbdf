"""From what comes in to the entries that record it, with everything that follows from it; or a refusal.

Items and results are never refused for coming late or out of order. An act is refused where the state does not allow
it, by the same rules by which `transitions` would leave it without effect.
"""

from collections.abc import Callable, Mapping
from dataclasses import fields
from types import MappingProxyType
from typing import Any

from service.domain import incoming as come
from service.domain.acts import why_not_handed_over, why_not_resumed
from service.domain.consequences import follow
from service.domain.entries import Entry, NewEntry
from service.domain.gates import why_not_released
from service.domain.job_state import JobState
from service.domain.people import must_have_role
from service.domain.pinned import PinnedJob
from service.domain.refusals import Conflict, Malformed, NotFound, Refusal
from service.domain.second_person import why_may_not_judge, why_no_opinion
from service.domain.sight import Served, blindness
from service.domain.transitions import apply

MOST_CONSEQUENCES = 1000
Plan = tuple[NewEntry, ...]


def open_job(pinned: PinnedJob, person: str) -> NewEntry:
    """Return the first entry of a job, which pins what it rests on."""
    people = [{"id": one.id, "name": one.name, "roles": sorted(one.roles)} for one in pinned.people.values()]
    body = {"job": pinned.job, "valve": pinned.valve.tag, "pins": dict(pinned.pins), "people": people}
    return NewEntry("job_opened", body, person=person)


def decide(state: JobState, thing: come.Incoming, at: str) -> Plan:
    """Return the entries that an incoming thing makes, followed by those that follow from it.

    Parameters
    ----------
    state : JobState
        The job as it stands.
    thing : Incoming
        An item, a result of an engine or an act of a person.
    at : str
        When it is received, RFC 3339 UTC.

    Raises
    ------
    Refusal
        An act that the state does not allow, or a result for an item that there is not.

    """
    first = PLANS[type(thing)](state, thing)
    if first.kind == "already":
        return ()
    plan, before = [first], state
    state = apply(state, provisional(state, first, at))
    for _ in range(MOST_CONSEQUENCES):
        more = follow(before, state)
        if not more:
            break
        before = state
        for entry in more:
            plan.append(entry)
            state = apply(state, provisional(state, entry, at))
    return tuple(plan)


def provisional(state: JobState, entry: NewEntry, at: str) -> Entry:
    """Return an entry as it would stand next, its hash a stand-in until the journal seals it."""
    return entry.sealed(state.last_seq + 1, at, f"provisional {state.last_seq + 1}")


def entry_of_item(item: come.Item) -> NewEntry:
    """Return what an item becomes in the journal."""
    own = {part.name: as_json(getattr(item, part.name)) for part in fields(item) if part.name not in ORIGIN}
    own = {name: value for name, value in own.items() if name not in IF_STATED or value is not None}
    if own.get("doubts") == []:
        del own["doubts"]  # what is not doubted says nothing of doubts, as it always did
    kinds = {come.Clip: "clip_taken_in", come.Photo: "photo_taken_in", come.Typed: "statement_made"}
    return NewEntry(
        kinds[type(item)],
        {"step": item.step, "known_seq": item.known_seq, **own},
        id=item.id,
        person=item.person,
        device=item.device,
        device_seq=item.device_seq,
        device_time=item.device_time,
        boot_id=item.boot_id,
        monotonic_ns=item.monotonic_ns,
    )


def as_json(value: Any) -> Any:  # noqa: ANN401 - any JSON value
    """Return a value as it stands in JSON: groups as dict, lists as list."""
    if isinstance(value, Mapping):
        return {str(key): as_json(one) for key, one in value.items()}
    return [as_json(one) for one in value] if isinstance(value, list | tuple) else value


ORIGIN = (
    "id",
    "person",
    "device",
    "device_seq",
    "device_time",
    "boot_id",
    "monotonic_ns",
    "step",
    "known_seq",
)
IF_STATED = ("began_ms_ago", "upper_edge")
"""Left out of an entry where the device did not state it, so that older entries and their repeats stay as they are."""
ALREADY = NewEntry("already")


def _item(state: JobState, item: come.Item) -> NewEntry:
    entry = entry_of_item(item)
    known = state.items.get(item.id)
    if known is None:
        return entry
    same = (known.entry.kind, as_json(known.entry.body)) == (entry.kind, entry.body)
    if same and known.entry.device == item.device:
        return ALREADY
    body = {"item": item.id, "kind": entry.kind, "body": dict(entry.body)}
    return NewEntry("item_conflicted", body, person=item.person, device=item.device)


def _hearing(state: JobState, result: come.HearingResult) -> NewEntry:
    _must_know(state, result.clip, "clip_taken_in")
    body = {"clip": result.clip, "hearing": as_json(result.hearing), "read_back": result.read_back}
    return NewEntry("clip_heard", body)


def _reading(state: JobState, result: come.ReadingResult) -> NewEntry:
    _must_know(state, result.photo, "photo_taken_in")
    return NewEntry(
        "photo_read",
        {
            "photo": result.photo,
            "contacts": as_json(result.contacts),
            "p": as_json(result.p),
            "reading": as_json(result.reading),
        },
    )


def _must_know(state: JobState, item: str, kind: str) -> None:
    known = state.items.get(item)
    if known is None or known.entry.kind != kind:
        raise NotFound("There is no such clip or photo in this job.", field="item")


def _judgement(state: JobState, given: come.Judgement) -> NewEntry:
    _raise(why_may_not_judge(state, given.person, given.step, given.mode))
    if given.mode == "concurrent" and not given.reason.strip():
        raise Malformed("Say why the check is concurrent.", field="reason")
    served = tuple(one for one in given.served if isinstance(one, Served))
    seen = blindness(state, given.step, given.person, served)
    return NewEntry(
        "judgement_given",
        {
            "step": given.step,
            "tag": given.tag,
            "required": as_json(given.required),
            "seen": as_json(given.seen),
            "mode": given.mode,
            "reason": given.reason,
            "blind": seen.blind,
            "served": [*seen.saw, *seen.saw_before],
        },
        person=given.person,
    )


def _opinion(state: JobState, given: come.Opinion) -> NewEntry:
    _raise(why_no_opinion(state, given.person, given.step, given.opinion))
    body = {"step": given.step, "opinion": given.opinion, "reason": given.reason}
    return NewEntry("opinion_given", body, person=given.person)


def _release(state: JobState, given: come.Release) -> NewEntry:
    why = why_not_released(
        state,
        given.step,
        given.person,
        given.head,
        given.mode,
        given.reason,
        fresh_sign_in=given.fresh_sign_in,
    )
    _raise(why)
    return NewEntry(
        "hold_point_released",
        {
            "step": given.step,
            "head": given.head,
            "mode": given.mode,
            "reason": given.reason,
            "fresh_sign_in": given.fresh_sign_in,
        },
        person=given.person,
    )


def _stop(_state: JobState, given: come.Stop) -> NewEntry:
    body = {"reason": given.reason, "may_resume": list(given.may_resume)}
    return NewEntry("work_stopped", body, person=given.person, device=given.device)


def _resume(state: JobState, given: come.Resume) -> NewEntry:
    _raise(why_not_resumed(state, given.person, given.stop, given.reason))
    return NewEntry("work_resumed", {"stop": given.stop, "reason": given.reason}, person=given.person)


def _break(_state: JobState, given: come.Break) -> NewEntry:
    return NewEntry("break_taken", {"cause": given.cause}, person=given.person)


def _handover(state: JobState, given: come.Handover) -> NewEntry:
    _raise(why_not_handed_over(state, given.person, given.to))
    return NewEntry("handed_over", {"to": given.to, "reason": given.reason}, person=given.person)


def _gap(state: JobState, given: come.GiveUpGap) -> NewEntry:
    must_have_role(state.pinned.person(given.person), "technician", "give items up")
    if given.device not in state.devices:
        raise NotFound("Nothing has come from that device.", field="device")
    if not given.reason.strip():
        raise Malformed("Say why the items are given up.", field="reason")
    body = {"device": given.device, "up_to": given.up_to, "reason": given.reason}
    return NewEntry("gap_given_up", body, person=given.person)


def _definition(state: JobState, given: come.DefinitionChange) -> NewEntry:
    if given.what not in state.pinned.pins:
        raise Conflict(f"{given.what} is not pinned in this job.", field="what")
    body = {"what": given.what, "was": given.was, "now": given.now, "reason": given.reason}
    return NewEntry("definition_changed", body, person=given.person)


def _note(_state: JobState, given: come.Note) -> NewEntry:
    return NewEntry("note_added", {"text": given.text, "step": given.step}, person=given.person)


def _refused(_state: JobState, given: come.RefusedRelease) -> NewEntry:
    body = {"step": given.step, "head": given.head, "reason": given.why}
    return NewEntry("release_refused", body, person=given.person)


def _raise(why: Refusal | None) -> None:
    if why is not None:
        raise why


PLANS: Mapping[type, Callable[[JobState, Any], NewEntry]] = MappingProxyType(
    {
        come.Clip: _item,
        come.Photo: _item,
        come.Typed: _item,
        come.HearingResult: _hearing,
        come.ReadingResult: _reading,
        come.Judgement: _judgement,
        come.Opinion: _opinion,
        come.Release: _release,
        come.Stop: _stop,
        come.Resume: _resume,
        come.Break: _break,
        come.Handover: _handover,
        come.GiveUpGap: _gap,
        come.DefinitionChange: _definition,
        come.Note: _note,
        come.RefusedRelease: _refused,
    }
)
