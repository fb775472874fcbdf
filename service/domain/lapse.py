"""What time alone makes void: a value past its expiry, and a proof left alone longer than the site allows.

Times are values handed in with the entries; nothing here reads a clock.
"""

from datetime import datetime

from service.domain.entries import Entry
from service.domain.happening import let_happen
from service.domain.instants import instant
from service.domain.job_state import JobState
from service.domain.needs import stands
from service.domain.voiding import void_conditions


def lapse(state: JobState, entry: Entry) -> JobState:
    """Make void what has expired by the time the entry was received."""
    now = instant(entry.received)
    if now is None:
        return state
    gone = [name for name, one in state.conditions.items() if one.expires and _is_past(one.expires, now)]
    gone = [name for name in gone if state.condition(name).status == "met" and _counts(state, name)]
    state = void_conditions(state, gone, "It has expired.", (entry.seq, entry.id), resting=False)
    limit, before = state.pinned.rules.pause_limit_s, instant(state.received)
    if limit is not None and before is not None and (now - before).total_seconds() > limit:
        state = let_happen(state, "break_taken", (entry.seq, entry.id))
    return state


def _counts(state: JobState, name: str) -> bool:
    """Return whether a condition still matters: its step has not passed, or it still stands."""
    step_id, _, need_id = name.partition("/")
    step = state.pinned.procedure.step(step_id)
    need = step.condition(need_id)
    return state.step(step_id).passed is None or (need is not None and stands(state, step, need))


def _is_past(expires: str, now: datetime) -> bool:
    end = instant(expires)
    return end is None or end < now
