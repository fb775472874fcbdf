"""Times as they stand in entries, as instants; no clock is read here."""

from datetime import UTC, datetime


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
