"""The service's clock, and the one spelling of times in the record."""

from datetime import UTC, datetime


class SystemClock:
    """Implements `ports.Clock` by the machine's clock."""

    def now(self) -> datetime:
        """Return the present instant, in UTC."""
        return datetime.now(UTC)
