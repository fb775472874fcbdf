"""What time alone makes void: a value past its expiry, and a proof left alone longer than the site allows.

Times are values handed in with the entries; nothing here reads a clock.
"""

from datetime import UTC, datetime

from service.domain.entries import Entry
from service.domain.job_state import JobState
from service.domain.restricting import let_happen
from service.domain.voiding import void_conditions


def lapse(state: JobState, entry: Entry) -> JobState:
    """Make void what has expired by the time the entry was received."""
    now = instant(entry.received)
    if now is None:
        return state
    gone = [name for name, one in state.conditions.items() if one.expires and _is_past(one.expires, now)]
    gone = [name for name in gone if state.condition(name).status == "met"]
    state = void_conditions(state, gone, "It has expired.", (entry.seq, entry.id))
    limit, before = state.pinned.rules.pause_limit_s, instant(state.received)
    if limit is not None and before is not None and (now - before).total_seconds() > limit:
        state = let_happen(state, "break_taken", (entry.seq, entry.id))
    return state


def instant(text: str) -> datetime | None:
    """Return the instant of an RFC 3339 time, or of the end of a date in UTC; None where it is neither.

    Examples
    --------
    >>> instant("2026-11-25T03:00:00Z") == instant("2026-11-25T05:00:00+02:00")
    True
    """
    try:
        if len(text) == len("2026-11-25"):
            return datetime.fromisoformat(f"{text}T23:59:59+00:00")
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)


def _is_past(expires: str, now: datetime) -> bool:
    end = instant(expires)
    return end is None or end < now
