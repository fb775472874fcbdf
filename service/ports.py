"""What the use cases need from outside, as Protocols, and the plain rows that cross that border.

`Ports` is the bundle that `compose` fills and every use case is handed. Times in rows are RFC 3339 text in
UTC with six digits and `Z`. A transaction holds journal, listings and queue in one: either all of it is
kept or nothing.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Literal, Protocol

from service.domain.entries import Entry, NewEntry
from service.journal.heads import SignedHead


def stamp(instant: datetime) -> str:
    """Return an instant as the record writes it: UTC, six digits, `Z`; text order is order in time."""
    return instant.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


MediaShape = Literal["photo", "clip", "definition"]
ServedWhat = Literal["claim", "reading", "expected", "finding", "judgement", "photo"]
ItemState = Literal["applied", "pending", "conflict"]


@dataclass(frozen=True)
class Site:
    """A site: everything else belongs to one.

    `rules` are its lamp colours, tolerances and required readings.
    """

    id: str
    name: str
    rules: Mapping[str, Any]


@dataclass(frozen=True)
class Person:
    """A person; not an account and not a device. Independence is judged by person."""

    id: str
    site_id: str
    name: str
    sign_in_name: str
    password: str | None
    active: bool
    roles: frozenset[str]


@dataclass(frozen=True)
class Device:
    """An enrolled device. `clock_offset_s` is the device's clock minus the service's, as estimated last."""

    id: str
    site_id: str
    name: str
    token_hash: str
    enrolled: str
    expires: str
    revoked: str | None = None
    clock_offset_s: float | None = None


@dataclass(frozen=True)
class Invitation:
    """A one-time token: enrols a device, or lets a person set the first password."""

    token_hash: str
    site_id: str
    purpose: Literal["device", "password"]
    person_id: str | None
    name: str
    created: str
    expires: str
    used: str | None = None


@dataclass(frozen=True)
class Session:
    """A sign-in. `proved` is when the password was last given; a release needs it to be fresh."""

    token_hash: str
    site_id: str
    person_id: str
    device_id: str | None
    started: str
    last_used: str
    proved: str
    ended: str | None = None


@dataclass(frozen=True)
class Asker:
    """Who asks: person, roles, site, device and sign-in of one request."""

    site_id: str
    person_id: str
    name: str
    roles: frozenset[str]
    session: Session
    device_id: str | None = None


@dataclass(frozen=True)
class JobRow:
    """One line of the list of jobs; derived from entries, never a source of truth."""

    id: str
    site_id: str
    tag: str
    valve: str
    status: str
    step: str | None
    summary: Mapping[str, Any]
    opened: str
    changed: str


@dataclass(frozen=True)
class MediaRow:
    """What is known of stored bytes. Pixel sizes are those of the picture as stored, before any turning."""

    site_id: str
    sha256: str
    type: str
    bytes: int
    received: str
    width: int | None = None
    height: int | None = None
    person_id: str | None = None
    device_id: str | None = None


@dataclass(frozen=True)
class ItemRow:
    """One captured item as it came in; `content` is its canonical JSON."""

    device_id: str
    item_id: str
    site_id: str
    job_id: str
    person_id: str
    device_seq: int
    content_sha256: str
    content: bytes
    state: ItemState
    received: str
    entry_seq: int | None = None


@dataclass(frozen=True)
class ServedRow:
    """One thing that one person was shown, in any role, on any device."""

    site_id: str
    person_id: str
    device_id: str | None
    job_id: str
    step: str | None
    what: ServedWhat
    as_role: str
    journal_seq: int
    at: str


@dataclass(frozen=True)
class WorkItem:
    """One piece of background work. MUST be idempotent: it may be begun again after a worker died."""

    id: int
    site_id: str
    kind: str
    key: str
    job_id: str
    arguments: Mapping[str, Any]
    attempts: int


class Clock(Protocol):
    """Says what time it is."""

    def now(self) -> datetime:
        """Return the present instant, in UTC."""
        ...


class MediaStore(Protocol):
    """Keeps bytes under the hash of their content."""

    def put(self, content: bytes) -> str:
        """Store `content` and return its SHA-256; durable when this returns, and idempotent.

        Raises TooBusy where the disk is nearly full or the store fails.
        """
        ...

    def get(self, sha256: str) -> bytes:
        """Return the bytes; raises NotFound, and Conflict where the stored bytes no longer have that hash."""
        ...

    def has(self, sha256: str) -> bool:
        """Tell whether bytes of that hash are stored."""
        ...


class Inspector(Protocol):
    """Looks at media before anything decodes it."""

    def __call__(self, content: bytes, declared: str, shape: MediaShape) -> "Inspected":
        """Return what the bytes are; raises BadMedia saying what is wrong with them."""
        ...


@dataclass(frozen=True)
class Inspected:
    """Type of the bytes by their first bytes, and the pixel size of a photo."""

    type: str
    width: int | None = None
    height: int | None = None


class JournalRecords(Protocol):
    """The entries of jobs, appended and read within a transaction."""

    def append(self, job_id: str, site_id: str, new: Sequence[NewEntry], received: str) -> list[Entry]:
        """Seal and append in order; signs the resulting head."""
        ...

    def entries(self, job_id: str) -> list[Entry]:
        """Return all entries in order."""
        ...

    def sealed(self, job_id: str) -> list[tuple[bytes, bytes | None]]:
        """Return envelope and payload bytes, in order, exactly as stored."""
        ...

    def head(self, job_id: str) -> SignedHead:
        """Return the newest signed head."""
        ...

    def heads(self, job_id: str) -> list[SignedHead]:
        """Return every signed head, oldest first."""
        ...


class Registers(Protocol):
    """Sites, persons with their roles, devices, invitations, sign-ins."""

    def add_site(self, site: Site, created: str) -> None: ...  # noqa: D102 - the names say it
    def site(self, site_id: str) -> Site | None: ...  # noqa: D102
    def sites(self) -> list[Site]: ...  # noqa: D102
    def add_person(self, person: Person, created: str) -> None: ...  # noqa: D102
    def person(self, person_id: str) -> Person | None: ...  # noqa: D102
    def person_by_sign_in_name(self, name: str) -> Person | None: ...  # noqa: D102
    def persons(self, site_id: str) -> list[Person]: ...  # noqa: D102
    def set_password(self, person_id: str, password: str) -> None: ...  # noqa: D102
    def set_active(self, person_id: str, *, active: bool) -> None: ...  # noqa: D102
    def set_roles(self, person_id: str, site_id: str, roles: Iterable[str]) -> None: ...  # noqa: D102
    def add_device(self, device: Device) -> None: ...  # noqa: D102
    def device(self, device_id: str) -> Device | None: ...  # noqa: D102
    def device_by_token(self, token_hash: str) -> Device | None: ...  # noqa: D102
    def devices(self, site_id: str) -> list[Device]: ...  # noqa: D102
    def revoke_device(self, device_id: str, at: str) -> None: ...  # noqa: D102
    def set_clock_offset(self, device_id: str, offset_s: float) -> None: ...  # noqa: D102
    def add_invitation(self, invitation: Invitation) -> None: ...  # noqa: D102
    def use_invitation(self, token_hash: str, at: str) -> Invitation | None:
        """Mark an unused, unexpired invitation as used and return it; None where there is none."""
        ...

    def add_session(self, session: Session) -> None: ...  # noqa: D102
    def session(self, token_hash: str) -> Session | None: ...  # noqa: D102
    def touch_session(self, token_hash: str, at: str) -> None: ...  # noqa: D102
    def end_session(self, token_hash: str, at: str) -> None: ...  # noqa: D102
    def end_sessions_of(self, at: str, *, person_id: str | None = None, device_id: str | None = None) -> None:
        """End every open sign-in of a person or on a device."""
        ...

    def note_failure(self, name_hash: str, at: str) -> None: ...  # noqa: D102
    def failures_since(self, name_hash: str, since: str) -> int: ...  # noqa: D102


class Listings(Protocol):
    """Rows beside the journal: jobs, media, items, what was served."""

    def put_job(self, row: JobRow) -> None: ...  # noqa: D102
    def job(self, site_id: str, job_id: str) -> JobRow | None: ...  # noqa: D102
    def jobs(self, site_id: str) -> list[JobRow]: ...  # noqa: D102
    def put_media(self, row: MediaRow) -> None: ...  # noqa: D102
    def media(self, site_id: str, sha256: str) -> MediaRow | None: ...  # noqa: D102
    def link_media(self, site_id: str, job_id: str, sha256: str, shows: str, step: str | None) -> None:
        """Note what a job's media shows (photo, clip, definition, annotated), once."""
        ...

    def media_links(self, site_id: str, sha256: str) -> list[tuple[str, str, str | None]]:
        """Return (job, what it shows, step) of every job that these bytes belong to."""
        ...

    def media_of_job(self, job_id: str) -> list[tuple[MediaRow, str]]:
        """Return the media of a job and what each shows."""
        ...

    def item(self, device_id: str, item_id: str) -> ItemRow | None: ...  # noqa: D102
    def put_item(self, row: ItemRow) -> None: ...  # noqa: D102
    def items_of_device(self, job_id: str, device_id: str) -> list[ItemRow]: ...  # noqa: D102
    def note_served(self, row: ServedRow) -> None: ...  # noqa: D102
    def served_to(self, job_id: str, person_id: str) -> list[ServedRow]: ...  # noqa: D102


class WorkQueue(Protocol):
    """Work that is queued in the same transaction as the entry that caused it."""

    def put(self, site_id: str, job_id: str, kind: str, key: str, arguments: Mapping[str, Any]) -> None:
        """Queue work once; a key that is known already changes nothing."""
        ...

    def finish(self, item: WorkItem) -> None:
        """Mark work as done within this transaction; raises Conflict where another worker has done it."""
        ...

    def waiting(self) -> int:
        """Return how many pieces of work are not finished."""
        ...

    def failures(self, job_id: str) -> list[tuple[str, str]]:
        """Return (key, reason) of work of a job that was given up."""
        ...

    def open_keys(self, job_id: str) -> list[str]:
        """Return the keys of a job's unfinished work."""
        ...


class Transaction(Protocol):
    """Journal, registers, listings and queue under one commit."""

    @property
    def journal(self) -> JournalRecords: ...  # noqa: D102
    @property
    def registers(self) -> Registers: ...  # noqa: D102
    @property
    def listings(self) -> Listings: ...  # noqa: D102
    @property
    def queue(self) -> WorkQueue: ...  # noqa: D102


class Transactions(Protocol):
    """Opens transactions. Leaving the block commits; an exception in it undoes everything."""

    def writing(self) -> AbstractContextManager[Transaction]:
        """Begin a transaction that holds the write lock from its start."""
        ...

    def reading(self) -> AbstractContextManager[Transaction]:
        """Begin a transaction that sees one state of the record and writes nothing."""
        ...


class Passwords(Protocol):
    """Slow hashes of passwords."""

    def hashed(self, password: str) -> str:
        """Return the hash to store; raises Malformed for one that is too short or too common."""
        ...

    def matches(self, password: str, stored: str | None) -> bool:
        """Compare; takes as long where nothing is stored, so that nobody learns which names exist."""
        ...


class Tokens(Protocol):
    """Opaque random tokens, of which only the hash is stored."""

    def new(self) -> str: ...  # noqa: D102
    def digest(self, token: str) -> str: ...  # noqa: D102


class Hearing(Protocol):
    """The ear: a clip and the phrases of a step, to a hearing (the JSON of `hear`)."""

    def hear(self, clip: bytes, phrases: bytes) -> Mapping[str, Any]: ...  # noqa: D102
    def phrases_for(self, intents: Sequence[str], contacts: Sequence[str]) -> bytes: ...  # noqa: D102
    def read_back(self, intent: str, slots: Mapping[str, Any]) -> str: ...  # noqa: D102
    def fingerprint(self) -> str: ...  # noqa: D102


class Reading(Protocol):
    """The eye: a photo and a layout, to a reading (the JSON of `read`) and an annotated picture."""

    def read(self, photo: bytes, layout: bytes) -> tuple[Mapping[str, Any], bytes | None]: ...  # noqa: D102
    def fingerprint(self) -> str: ...  # noqa: D102


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


@dataclass(frozen=True)
class Ports:
    """Everything the use cases are handed."""

    transactions: Transactions
    media: MediaStore
    inspect: Inspector
    clock: Clock
    new_id: Callable[[], str]
    passwords: Passwords
    tokens: Tokens
    limits: Limits
    hearing: Hearing
    reading: Reading
    signer_public_key: bytes
    extras: Mapping[str, Any] = field(default_factory=dict)
