"""Items of one device are applied in sequence; past a gap, and behind a clip that is not heard yet, they wait.

What restricts does not wait: it acts when its meaning is known.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from service.domain.claims import take_back_early, take_statement, withdraw
from service.domain.contact_claims import restrict_contacts
from service.domain.entries import Entry
from service.domain.evidence import attach_photo, take_photo, take_reading
from service.domain.job_state import ConditionState, DeviceLine, ItemRecord, JobState
from service.domain.needs import why_not_taking_part
from service.domain.restricting import is_late, restrict
from service.domain.statements import Statement, statement_of
from service.domain.voiding import put, with_condition, with_effect

MOST_SECONDS = 3600.0
"""Longer than any clip that is taken in."""


def take_item(state: JobState, entry: Entry) -> JobState:
    """Note an item, let it act as far as it restricts, and apply whatever of its device's line is ready."""
    if entry.id in state.items:
        return with_effect(state, entry.seq, "This identity has come before.")
    state = replace(state, items=put(state.items, entry.id, _record(entry)))
    if entry.kind == "photo_taken_in":
        state = take_photo(state, entry)
    early = state.results.get(entry.id)
    if early is not None:
        state = take_result(state, early)
    state = restrict(state, state.items[entry.id])
    state = drain(_queue(state, entry), entry.device)
    return restrict_contacts(take_back_early(state, state.items[entry.id]), state.items[entry.id])


def take_result(state: JobState, entry: Entry) -> JobState:
    """Take what an engine made of an item; a result that comes before its item waits for it."""
    target = str(entry.body.get("clip" if entry.kind == "clip_heard" else "photo"))
    item = state.items.get(target)
    if item is None:
        return replace(state, results=put(state.results, target, entry))
    if entry.kind == "photo_read":
        return take_reading(state, target, entry) if target in state.photos else state
    state = drain(_hear(state, item, entry), item.entry.device)
    return restrict_contacts(take_back_early(state, state.items[target]), state.items[target])


def give_up(state: JobState, device: str, up_to: int) -> JobState:
    """Apply what waited behind items that will never come."""
    line = state.devices.get(device, DeviceLine())
    state = replace(state, devices=put(state.devices, device, replace(line, given_up=up_to)))
    return drain(state, device)


def drain(state: JobState, device: str | None) -> JobState:
    """Apply the items of a device that are next in its sequence and whose meaning is known."""
    line = state.devices.get(device or "", DeviceLine())
    while True:
        place = line.done + 1
        identity = line.waiting.get(place)
        if identity is None and place > line.given_up:
            return state
        if identity is not None:
            if not state.items[identity].heard:
                return state
            state = _apply(state, state.items[identity])
        waiting = {number: item for number, item in line.waiting.items() if number != place}
        line = replace(line, done=place, waiting=waiting)
        state = replace(state, devices=put(state.devices, device or "", line))


def waiting_for(state: JobState, step: str) -> tuple[str, ...]:
    """Return the items made for a step that have not been applied yet."""
    waiting = (item for line in state.devices.values() for item in line.waiting.values())
    return tuple(item for item in waiting if state.items[item].entry.step == step)


def _record(entry: Entry) -> ItemRecord:
    if entry.kind == "statement_made":
        statement = _statement(entry.body.get("intent"), entry.body.get("slots"))
        read_back = str(entry.body.get("read_back") or "")
        return ItemRecord(entry, statement, entry.seq, read_back, heard=True)
    return ItemRecord(entry, heard=entry.kind == "photo_taken_in")


def _statement(intent: Any, slots: Any) -> Statement | None:  # noqa: ANN401 - JSON as it came
    if isinstance(intent, str) and isinstance(slots, Mapping):
        return statement_of(intent, slots)
    return None


def _queue(state: JobState, entry: Entry) -> JobState:
    if entry.device is None or entry.device_seq is None:
        return _apply(state, state.items[entry.id])
    line = state.devices.get(entry.device, DeviceLine())
    if entry.device_seq <= line.done or entry.device_seq in line.waiting:
        return with_effect(state, entry.seq, "Its number in its device's line is taken or given up.")
    line = replace(line, waiting=put(line.waiting, entry.device_seq, entry.id))
    return replace(state, devices=put(state.devices, entry.device, line))


def _hear(state: JobState, item: ItemRecord, entry: Entry) -> JobState:
    hearing = entry.group("hearing")
    meant = (
        _statement(hearing.get("intent"), hearing.get("slots")) if hearing.get("verdict") == "heard" else None
    )
    if item.applied:
        return _hear_again(state, item, meant, entry)
    read_back = str(entry.body.get("read_back") or "")
    first_word, length = _spoken_at(hearing)
    record = replace(
        item,
        statement=meant,
        known_from=entry.seq,
        read_back=read_back,
        heard=True,
        restricted=False,
        first_word_s=first_word,
        audio_s=length,
    )
    state = replace(state, items=put(state.items, item.entry.id, record))
    if meant is None:
        reason = str(hearing.get("reason") or "it could not be heard")
        state = with_effect(state, entry.seq, f"The clip was refused: {reason}.")
    return restrict(state, record)


def _spoken_at(hearing: Mapping[str, Any]) -> tuple[float | None, float | None]:
    """Return when the first word of a hearing began and how long the clip is, in seconds; None where not told."""
    words, length = hearing.get("words"), hearing.get("audio_s")
    first = (
        words[0].get("start")
        if isinstance(words, list | tuple) and words and isinstance(words[0], Mapping)
        else None
    )
    return _seconds(first), _seconds(length)


def _seconds(value: Any) -> float | None:  # noqa: ANN401 - JSON as it came
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0.0 <= value <= MOST_SECONDS:
        return None
    return float(value)


def _hear_again(state: JobState, item: ItemRecord, meant: Statement | None, entry: Entry) -> JobState:
    """Let a second hearing act where it restricts; it never permits anything by itself."""
    if meant is None or meant == item.statement:
        return state
    record = replace(item, statement=meant, known_from=entry.seq, restricted=False)
    state = with_effect(state, entry.seq, "It was heard differently the second time.")
    state = restrict(state, record)
    because = "The clip was heard differently the second time."
    return withdraw(state, item.entry.id, because, (entry.seq, item.entry.id))


def _apply(state: JobState, item: ItemRecord) -> JobState:
    entry = item.entry
    state = replace(state, items=put(state.items, entry.id, replace(item, applied=True)))
    if entry.person is not None:
        state = replace(state, took_part=state.took_part | {entry.person})
    if entry.kind == "photo_taken_in":
        return _apply_photo(state, state.items[entry.id])
    return take_statement(state, state.items[entry.id])


def _apply_photo(state: JobState, item: ItemRecord) -> JobState:
    step = item.entry.step
    if step is None or step not in state.pinned.procedure.places:
        return with_effect(state, item.entry.seq, "It names no step of the procedure.")
    if not state.is_open(step):
        if is_late(state, item, step):
            return attach_photo(state, item, late=True)
        passed = state.step(step).passed is not None
        why = "It was made after its step had closed." if passed else "Its step is not open yet."
        return with_effect(state, item.entry.seq, why)
    why_not = why_not_taking_part(state, item.entry.person, "technician")
    if why_not is not None:
        return with_effect(state, item.entry.seq, why_not)
    return _meet_photo(attach_photo(state, item, late=False), item, step)


def _meet_photo(state: JobState, item: ItemRecord, step: str) -> JobState:
    for need in state.pinned.procedure.step(step).needs:
        if need.kind == "photo" and need.of == item.entry.body.get("of", "switch"):
            met = ConditionState("met", item.entry.seq, item.entry.id, item.entry.person)
            state = with_condition(state, f"{step}/{need.id}", met)
    return state
