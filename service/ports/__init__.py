"""What the use cases need from outside, as Protocols, and the plain rows that cross that border.

`Ports` is the bundle that `compose` fills and every use case is handed. A transaction holds journal,
registers, listings and queue in one: either all of it is kept or nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from service.ports.outside import (
    Clock,
    Definitions,
    Hearing,
    Inspector,
    MediaStore,
    Packages,
    Passwords,
    Reading,
    Tokens,
)
from service.ports.records import (
    JournalRecords,
    Listings,
    Registers,
    Transaction,
    Transactions,
    WorkQueue,
)
from service.ports.rows import (
    HEAR_CLIP,
    READ_PHOTO,
    Asker,
    Device,
    Inspected,
    Invitation,
    JobRow,
    LinkRow,
    MediaRow,
    MediaShape,
    Person,
    SeenPhoto,
    ServedRow,
    ServedWhat,
    Session,
    Site,
    TooLarge,
    Vocabulary,
    WorkItem,
    stamp,
)
from service.ports.trade import (
    CountedTrip,
    CountedTrips,
    DriftingTrip,
    DriftingTrips,
    TradeDocuments,
    ValveStated,
    Wiring,
)


@dataclass(frozen=True)
class Limits:
    """Figures the use cases obey; seconds and counts."""

    session_idle_s: int
    session_life_s: int
    fresh_sign_in_s: int
    enrolment_life_s: int
    device_life_s: int
    sign_in_attempts: int
    sign_in_window_s: int
    queue_limit: int
    pending_limit: int
    streams_limit: int
    stream_idle_s: int
    stream_ahead_s: int


@dataclass(frozen=True)
class Ports:
    """Everything the use cases are handed."""

    transactions: Transactions
    media: MediaStore
    inspector: Inspector
    clock: Clock
    new_id: Callable[[], str]
    passwords: Passwords
    tokens: Tokens
    limits: Limits
    hearing: Hearing
    reading: Reading
    definitions: Definitions
    packages: Packages
    trade: TradeDocuments
    remembered: dict[str, Any] = field(default_factory=dict)
    """What can be computed again from the record, kept to save time; a second process needs none of it."""


__all__ = [
    "HEAR_CLIP",
    "READ_PHOTO",
    "Asker",
    "Clock",
    "CountedTrip",
    "CountedTrips",
    "Definitions",
    "Device",
    "DriftingTrip",
    "DriftingTrips",
    "Hearing",
    "Inspected",
    "Inspector",
    "Invitation",
    "JobRow",
    "JournalRecords",
    "Limits",
    "LinkRow",
    "Listings",
    "MediaRow",
    "MediaShape",
    "MediaStore",
    "Packages",
    "Passwords",
    "Person",
    "Ports",
    "Reading",
    "Registers",
    "SeenPhoto",
    "ServedRow",
    "ServedWhat",
    "Session",
    "Site",
    "Tokens",
    "TooLarge",
    "TradeDocuments",
    "Transaction",
    "Transactions",
    "ValveStated",
    "Vocabulary",
    "Wiring",
    "WorkItem",
    "WorkQueue",
    "stamp",
]
