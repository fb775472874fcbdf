"""The plain rows that cross the border between use cases and adapters.

Times are RFC 3339 text in UTC with six digits and `Z`; their text order is their order in time.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

from service.domain.refusals import BadMedia

MediaShape = Literal["photo", "clip", "definition"]
ServedWhat = Literal["photo", "travel", "claim", "reading", "finding", "expected", "judgement"]


class TooLarge(BadMedia):
    """The file has more bytes than are taken."""

    code = "too-large"
    title = "This file is too large"


HEAR_CLIP = "hear_clip"
READ_PHOTO = "read_photo"


def stamp(instant: datetime) -> str:
    """Return an instant as the record writes it: UTC, six digits, `Z`; text order is order in time."""
    return instant.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


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
class LinkRow:
    """What stored bytes show in a job: photo, clip, annotated or definition.

    `of` is the item that brought a photo or clip, the photo (by SHA-256) that a picture was drawn on, or
    the name under which a definition is pinned.
    """

    job_id: str
    sha256: str
    site_id: str
    shows: str
    of: str | None


@dataclass(frozen=True)
class ServedRow:
    """One thing that one person was shown, in any role, on any device."""

    site_id: str
    person_id: str
    device_id: str | None
    job_id: str
    step: str | None
    attempt: int | None
    what: ServedWhat
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


@dataclass(frozen=True)
class Inspected:
    """Type of the bytes by their first bytes, and the pixel size of a photo."""

    type: str
    width: int | None = None
    height: int | None = None


@dataclass(frozen=True)
class Vocabulary:
    """What a job calls things, as spoken.

    Contact labels, sources that are locked, circuits fed from elsewhere.
    """

    contacts: tuple[str, ...]
    sources: tuple[str, ...] = ()
    circuits: tuple[str, ...] = ()


@dataclass(frozen=True)
class SeenPhoto:
    """What the eye saw.

    Contact label to state and to probability, the whole reading, the annotated picture.
    """

    contacts: Mapping[str, str]
    p: Mapping[str, float]
    reading: Mapping[str, Any]
    annotated: bytes | None = None
