"""What the use cases need of the record: journal, registers, listings and queue under one commit."""

from collections.abc import Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from typing import Any, Protocol

from service.domain.entries import Entry, NewEntry
from service.journal.heads import SignedHead
from service.ports.rows import (
    Device,
    Invitation,
    JobRow,
    LinkRow,
    MediaRow,
    Person,
    ServedRow,
    Session,
    Site,
    WorkItem,
)


class JournalRecords(Protocol):
    """The entries of jobs, appended and read within a transaction."""

    def append(self, job_id: str, site_id: str, new: Sequence[NewEntry], received: str) -> list[Entry]:
        """Seal and append in order; signs the resulting head."""
        ...

    def entries(self, job_id: str, first: int = 0) -> list[Entry]:
        """Return the entries from `first` on, in order."""
        ...

    def sealed(self, job_id: str, first: int = 0) -> list[tuple[bytes, bytes | None]]:
        """Return envelope and payload bytes from `first` on, in order, exactly as stored."""
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
    """Rows beside the journal: jobs, media, what was served."""

    def put_job(self, row: JobRow) -> None: ...  # noqa: D102
    def job(self, site_id: str, job_id: str) -> JobRow | None: ...  # noqa: D102
    def jobs(self, site_id: str) -> list[JobRow]: ...  # noqa: D102
    def put_media(self, row: MediaRow) -> None: ...  # noqa: D102
    def media(self, site_id: str, sha256: str) -> MediaRow | None: ...  # noqa: D102
    def link_media(self, row: LinkRow) -> None:
        """Note what a job's media show, once."""
        ...

    def media_links(self, site_id: str, sha256: str) -> list[LinkRow]:
        """Return what these bytes show, for every job that they belong to."""
        ...

    def media_of_job(self, job_id: str) -> list[tuple[MediaRow, LinkRow]]:
        """Return the media of a job and what each shows."""
        ...

    def note_served(self, row: ServedRow) -> None: ...  # noqa: D102
    def served_to(self, job_id: str, person_id: str) -> list[ServedRow]: ...  # noqa: D102


class WorkQueue(Protocol):
    """Work that is queued in the same transaction as the entry that caused it."""

    def put(self, site_id: str, job_id: str, kind: str, key: str, arguments: Mapping[str, Any]) -> None:
        """Queue work once; a key that is known already changes nothing."""
        ...

    def claim_own(self, worker: str, key: str, lease_s: float) -> WorkItem | None:
        """Take just this piece of work for `lease_s` seconds; None where it is done or claimed."""
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
