"""The one transition function of a job: a state and an entry make the next state.

Evidence moves the job; an act counts only where the state before it allows it, whoever wrote it into the journal; a
record and a kind that is not known move nothing. What restricts is worked out here from the evidence itself, so that
leaving out a record opens no gate.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from service.domain import acts
from service.domain.derived import derive
from service.domain.device_lines import take_item, take_result
from service.domain.entries import Entry, kind_of
from service.domain.evidence import note_reading
from service.domain.happening import return_to_isolation
from service.domain.job_state import JobState
from service.domain.lapse import lapse
from service.domain.pinned import PinnedJob
from service.domain.refusals import Conflict
from service.domain.second_person import take_judgement, take_opinion

Transition = Callable[[JobState, Entry], JobState]


def replay(pinned: PinnedJob, entries: Iterable[Entry]) -> JobState:
    """Return the state of a job after its entries, given in the order of the journal."""
    state = JobState(pinned)
    for entry in entries:
        state = apply(state, entry)
    return state


def apply(state: JobState, entry: Entry) -> JobState:
    """Return the state after one more entry; never refuses a well-formed entry of the journal.

    Raises
    ------
    Conflict
        The entry is not the next one: entries of a journal are numbered without a gap.

    """
    if entry.seq != state.last_seq + 1:
        raise Conflict(f"Entry {entry.seq} does not follow entry {state.last_seq}.", field="seq")
    known = kind_of(entry)
    if known is None:
        moved = replace(state, unknown=(*state.unknown, entry.seq))
    else:
        late = known.power == "evidence"
        moved = lapse(state, entry)
        moved = TRANSITIONS.get(entry.kind, _nothing)(moved, entry)
        cause = (entry.seq, entry.id)
        moved = derive(state, moved, cause, late=late)
        moved = derive(state, return_to_isolation(state, moved, cause), cause, late=late)
    return replace(moved, last_seq=entry.seq, head=entry.hash, received=entry.received)


def _open(state: JobState, entry: Entry) -> JobState:  # noqa: ARG001 - every transition takes both
    return replace(state, opened=True)


def _reading(state: JobState, entry: Entry) -> JobState:
    return note_reading(take_result(state, entry), entry)


def _nothing(state: JobState, entry: Entry) -> JobState:  # noqa: ARG001 - every transition takes both
    return state


TRANSITIONS: Mapping[str, Transition] = MappingProxyType(
    {
        "job_opened": _open,
        "clip_taken_in": take_item,
        "photo_taken_in": take_item,
        "statement_made": take_item,
        "clip_heard": take_result,
        "photo_read": _reading,
        "judgement_given": take_judgement,
        "opinion_given": take_opinion,
        "hold_point_released": acts.take_release,
        "work_stopped": acts.take_stop,
        "work_resumed": acts.take_resume,
        "break_taken": acts.take_break,
        "handed_over": acts.take_handover,
        "gap_given_up": acts.take_gap,
        "definition_changed": acts.take_definition_change,
        "step_passed": acts.take_pass,
    }
)
