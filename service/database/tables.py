"""The tables, as data. Every row belongs to a site; entries are only ever added.

Times are RFC 3339 in UTC with six digits and `Z`, so that their text order is their order in time.
Identities are UUID text. Hashes are lower-case hexadecimal SHA-256.
"""

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    },
)


def _id(name: str = "id") -> Column[str]:
    return Column(name, String(36), primary_key=True)


def _site() -> Column[str]:
    return Column("site_id", String(36), ForeignKey("sites.id"), nullable=False)


def _time(name: str, *, nullable: bool = False) -> Column[str]:
    return Column(name, String(27), nullable=nullable)


def _sha256(name: str) -> Column[str]:
    return Column(name, String(64), nullable=False)


sites = Table(
    "sites",
    metadata,
    _id(),
    Column("name", Text, nullable=False, unique=True),
    Column("rules", Text, nullable=False),
    _time("created"),
)

persons = Table(
    "persons",
    metadata,
    _id(),
    _site(),
    Column("name", Text, nullable=False),
    Column("sign_in_name", Text, nullable=False, unique=True),
    Column("password", Text, nullable=True),
    Column("active", Boolean, nullable=False),
    _time("created"),
)

roles = Table(
    "roles",
    metadata,
    Column("person_id", String(36), ForeignKey("persons.id"), primary_key=True),
    Column("role", String(20), primary_key=True),
    _site(),
)

devices = Table(
    "devices",
    metadata,
    _id(),
    _site(),
    Column("name", Text, nullable=False),
    _sha256("token_hash"),
    _time("enrolled"),
    _time("expires"),
    _time("revoked", nullable=True),
    Column("clock_offset_s", Float, nullable=True),
    UniqueConstraint("token_hash"),
)

invitations = Table(
    "invitations",
    metadata,
    Column("token_hash", String(64), primary_key=True),
    _site(),
    Column("purpose", String(20), nullable=False),
    Column("person_id", String(36), ForeignKey("persons.id"), nullable=True),
    Column("name", Text, nullable=False),
    _time("created"),
    _time("expires"),
    _time("used", nullable=True),
)

sessions = Table(
    "sessions",
    metadata,
    Column("token_hash", String(64), primary_key=True),
    _site(),
    Column("person_id", String(36), ForeignKey("persons.id"), nullable=False),
    Column("device_id", String(36), ForeignKey("devices.id"), nullable=True),
    _time("started"),
    _time("last_used"),
    _time("proved"),
    _time("ended", nullable=True),
)

sign_in_failures = Table(
    "sign_in_failures",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name_hash", String(64), nullable=False),
    _time("at"),
    Index("ix_sign_in_failures_name_at", "name_hash", "at"),
)

jobs = Table(
    "jobs",
    metadata,
    _id(),
    _site(),
    Column("tag", Text, nullable=False),
    Column("valve", Text, nullable=False),
    Column("status", String(20), nullable=False),
    Column("step", Text, nullable=True),
    Column("summary", Text, nullable=False),
    _time("opened"),
    _time("changed"),
    Index("ix_jobs_site_tag", "site_id", "tag"),
)

entries = Table(
    "entries",
    metadata,
    Column("job_id", String(36), ForeignKey("jobs.id"), primary_key=True),
    Column("seq", Integer, primary_key=True),
    _site(),
    Column("id", String(36), nullable=False),
    Column("kind", String(40), nullable=False),
    _sha256("hash"),
    Column("envelope", LargeBinary, nullable=False),
    Column("payload", LargeBinary, nullable=True),
    UniqueConstraint("job_id", "id"),
    UniqueConstraint("hash"),
)

heads = Table(
    "heads",
    metadata,
    Column("job_id", String(36), primary_key=True),
    Column("seq", Integer, primary_key=True),
    _site(),
    Column("document", LargeBinary, nullable=False),
    Column("signature", LargeBinary, nullable=False),
    Column("public_key", LargeBinary, nullable=False),
    ForeignKeyConstraint(["job_id", "seq"], ["entries.job_id", "entries.seq"]),
)

media = Table(
    "media",
    metadata,
    Column("site_id", String(36), ForeignKey("sites.id"), primary_key=True),
    Column("sha256", String(64), primary_key=True),
    Column("type", String(40), nullable=False),
    Column("bytes", Integer, nullable=False),
    Column("width", Integer, nullable=True),
    Column("height", Integer, nullable=True),
    _time("received"),
    Column("person_id", String(36), ForeignKey("persons.id"), nullable=True),
    Column("device_id", String(36), ForeignKey("devices.id"), nullable=True),
)

job_media = Table(
    "job_media",
    metadata,
    Column("job_id", String(36), ForeignKey("jobs.id"), primary_key=True),
    Column("sha256", String(64), primary_key=True),
    _site(),
    Column("shows", String(20), nullable=False),
    Column("of", Text, nullable=True),
    ForeignKeyConstraint(["site_id", "sha256"], ["media.site_id", "media.sha256"]),
)

served = Table(
    "served",
    metadata,
    Column("id", Integer, primary_key=True),
    _site(),
    Column("person_id", String(36), ForeignKey("persons.id"), nullable=False),
    Column("device_id", String(36), ForeignKey("devices.id"), nullable=True),
    Column("job_id", String(36), ForeignKey("jobs.id"), nullable=False),
    Column("step", Text, nullable=True),
    Column("attempt", Integer, nullable=True),
    Column("what", String(20), nullable=False),
    Column("journal_seq", Integer, nullable=False),
    _time("at"),
    Index("ix_served_job_person", "job_id", "person_id"),
)

work = Table(
    "work",
    metadata,
    Column("id", Integer, primary_key=True),
    _site(),
    Column("kind", String(20), nullable=False),
    Column("key", String(128), nullable=False),
    Column("job_id", String(36), ForeignKey("jobs.id"), nullable=False),
    Column("arguments", Text, nullable=False),
    Column("priority", Integer, nullable=False),
    Column("attempts", Integer, nullable=False),
    _time("queued"),
    Column("claimed_by", String(36), nullable=True),
    _time("claimed_until", nullable=True),
    _time("finished", nullable=True),
    Column("failure", Text, nullable=True),
    UniqueConstraint("key"),
    Index("ix_work_open", "finished", "claimed_until"),
)
