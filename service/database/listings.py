"""Rows beside the journal: jobs, media, and what was served to whom."""

import json
from dataclasses import asdict
from typing import Any

from sqlalchemy import Connection, Row, and_, select
from sqlalchemy.dialects.sqlite import insert

from service.database import tables
from service.ports import JobRow, LinkRow, MediaRow, ServedRow


class SqlListings:
    """Implements `ports.Listings` on one connection, that is within one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def put_job(self, row: JobRow) -> None:
        """Add a job's line or replace it by its newer state."""
        values = {**asdict(row), "summary": json.dumps(dict(row.summary), sort_keys=True)}
        added = insert(tables.jobs).values(**values)
        fresh = {name: values[name] for name in ("status", "step", "summary", "changed")}
        self._connection.execute(added.on_conflict_do_update(index_elements=["id"], set_=fresh))

    def job(self, site_id: str, job_id: str) -> JobRow | None:
        """Return a job of this site."""
        which = and_(tables.jobs.c.site_id == site_id, tables.jobs.c.id == job_id)
        row = self._connection.execute(select(tables.jobs).where(which)).first()
        return _job(row) if row else None

    def jobs(self, site_id: str) -> list[JobRow]:
        """Return the jobs of a site, the one that changed last first."""
        found = select(tables.jobs).where(tables.jobs.c.site_id == site_id)
        return [_job(row) for row in self._connection.execute(found.order_by(tables.jobs.c.changed.desc()))]

    def put_media(self, row: MediaRow) -> None:
        """Note stored bytes once; the first who brought them stays noted."""
        self._connection.execute(insert(tables.media).values(**asdict(row)).on_conflict_do_nothing())

    def media(self, site_id: str, sha256: str) -> MediaRow | None:
        """Return what is known of bytes that this site holds."""
        which = and_(tables.media.c.site_id == site_id, tables.media.c.sha256 == sha256)
        row = self._connection.execute(select(tables.media).where(which)).first()
        return MediaRow(**row._mapping) if row else None  # noqa: SLF001 - SQLAlchemy's public name

    def link_media(self, row: LinkRow) -> None:
        """Note what a job's media show, once."""
        self._connection.execute(insert(tables.job_media).values(**asdict(row)).on_conflict_do_nothing())

    def media_links(self, site_id: str, sha256: str) -> list[LinkRow]:
        """Return what these bytes show, for every job that they belong to."""
        columns = tables.job_media.c
        found = select(tables.job_media).where(and_(columns.site_id == site_id, columns.sha256 == sha256))
        return [LinkRow(**row._mapping) for row in self._connection.execute(found)]  # noqa: SLF001 - as above

    def media_of_job(self, job_id: str) -> list[tuple[MediaRow, LinkRow]]:
        """Return the media of a job and what each shows."""
        found = select(tables.job_media).where(tables.job_media.c.job_id == job_id)
        links = [LinkRow(**row._mapping) for row in self._connection.execute(found)]  # noqa: SLF001 - as above
        held = [(self.media(link.site_id, link.sha256), link) for link in links]
        known = [(media, link) for media, link in held if media is not None]
        return sorted(known, key=lambda pair: (pair[0].received, pair[0].sha256))

    def note_served(self, row: ServedRow) -> None:
        """Add one line to the log of what was served."""
        self._connection.execute(insert(tables.served).values(**asdict(row)))

    def served_to(self, job_id: str, person_id: str) -> list[ServedRow]:
        """Return everything of a job that this person was served, in any role and on any device."""
        columns = tables.served.c
        found = select(tables.served).where(and_(columns.job_id == job_id, columns.person_id == person_id))
        return [_served(row) for row in self._connection.execute(found.order_by(columns.id))]


def _job(row: Row[Any]) -> JobRow:
    values = dict(row._mapping)  # noqa: SLF001 - SQLAlchemy's public name
    return JobRow(**{**values, "summary": json.loads(values["summary"])})


def _served(row: Row[Any]) -> ServedRow:
    return ServedRow(**{name: value for name, value in row._mapping.items() if name != "id"})  # noqa: SLF001
