"""Sites, persons with their roles, devices, invitations and sign-ins, as rows."""

import json
from collections.abc import Iterable
from dataclasses import asdict, fields
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, and_, delete, func, insert, select, update

from service.database import tables
from service.ports import Device, Invitation, Person, Session, Site, stamp


class SqlRegisters:
    """Implements `ports.Registers` on one connection, that is within one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add_site(self, site: Site, created: str) -> None:
        """Add a site."""
        row = {"id": site.id, "name": site.name, "rules": json.dumps(dict(site.rules)), "created": created}
        self._connection.execute(insert(tables.sites).values(**row))

    def site(self, site_id: str) -> Site | None:
        """Return one site."""
        row = self._connection.execute(select(tables.sites).where(tables.sites.c.id == site_id)).first()
        return _site(row) if row else None

    def sites(self) -> list[Site]:
        """Return every site, oldest first."""
        rows = self._connection.execute(select(tables.sites).order_by(tables.sites.c.created))
        return [_site(row) for row in rows]

    def add_person(self, person: Person, created: str) -> None:
        """Add a person with roles."""
        row = asdict(person)
        row.pop("roles")
        self._connection.execute(insert(tables.persons).values(**row, created=created))
        self.set_roles(person.id, person.site_id, person.roles)

    def person(self, person_id: str) -> Person | None:
        """Return one person."""
        return self._person(tables.persons.c.id == person_id)

    def person_by_sign_in_name(self, name: str) -> Person | None:
        """Return the person who signs in by this name; names are compared without case."""
        return self._person(func.lower(tables.persons.c.sign_in_name) == name.lower())

    def persons(self, site_id: str) -> list[Person]:
        """Return the persons of a site, by name."""
        found = (
            select(tables.persons).where(tables.persons.c.site_id == site_id).order_by(tables.persons.c.name)
        )
        return [self._with_roles(row) for row in self._connection.execute(found)]

    def set_password(self, person_id: str, password: str) -> None:
        """Store the hash of a password."""
        changed = update(tables.persons).where(tables.persons.c.id == person_id).values(password=password)
        self._connection.execute(changed)

    def set_active(self, person_id: str, *, active: bool) -> None:
        """Enable or disable a person's account."""
        changed = update(tables.persons).where(tables.persons.c.id == person_id).values(active=active)
        self._connection.execute(changed)

    def set_roles(self, person_id: str, site_id: str, roles: Iterable[str]) -> None:
        """Replace a person's roles."""
        self._connection.execute(delete(tables.roles).where(tables.roles.c.person_id == person_id))
        for role in sorted(set(roles)):
            row = {"person_id": person_id, "role": role, "site_id": site_id}
            self._connection.execute(insert(tables.roles).values(**row))

    def add_device(self, device: Device) -> None:
        """Add an enrolled device."""
        self._connection.execute(insert(tables.devices).values(**asdict(device)))

    def device(self, device_id: str) -> Device | None:
        """Return one device."""
        row = self._connection.execute(select(tables.devices).where(tables.devices.c.id == device_id)).first()
        return _device(row) if row else None

    def device_by_token(self, token_hash: str) -> Device | None:
        """Return the device that holds the token of this hash."""
        found = select(tables.devices).where(tables.devices.c.token_hash == token_hash)
        row = self._connection.execute(found).first()
        return _device(row) if row else None

    def devices(self, site_id: str) -> list[Device]:
        """Return the devices of a site, oldest first."""
        found = select(tables.devices).where(tables.devices.c.site_id == site_id)
        return [_device(row) for row in self._connection.execute(found.order_by(tables.devices.c.enrolled))]

    def revoke_device(self, device_id: str, at: str) -> None:
        """Revoke a device; the first time of revoking is kept."""
        which = and_(tables.devices.c.id == device_id, tables.devices.c.revoked.is_(None))
        self._connection.execute(update(tables.devices).where(which).values(revoked=at))

    def set_clock_offset(self, device_id: str, offset_s: float) -> None:
        """Keep the newest estimate of a device's clock offset."""
        changed = update(tables.devices).where(tables.devices.c.id == device_id)
        self._connection.execute(changed.values(clock_offset_s=offset_s))

    def add_invitation(self, invitation: Invitation) -> None:
        """Add a one-time token."""
        self._connection.execute(insert(tables.invitations).values(**asdict(invitation)))

    def use_invitation(self, token_hash: str, at: str) -> Invitation | None:
        """Mark an unused, unexpired invitation as used and return it."""
        columns = tables.invitations.c
        usable = and_(columns.token_hash == token_hash, columns.used.is_(None), columns.expires > at)
        if not self._connection.execute(update(tables.invitations).where(usable).values(used=at)).rowcount:
            return None
        found = select(tables.invitations).where(columns.token_hash == token_hash)
        return Invitation(**self._connection.execute(found).one()._mapping)  # noqa: SLF001 - SQLAlchemy's public name

    def add_session(self, session: Session) -> None:
        """Add a sign-in."""
        self._connection.execute(insert(tables.sessions).values(**asdict(session)))

    def session(self, token_hash: str) -> Session | None:
        """Return one sign-in, ended or not."""
        found = select(tables.sessions).where(tables.sessions.c.token_hash == token_hash)
        row = self._connection.execute(found).first()
        return Session(**row._mapping) if row else None  # noqa: SLF001 - SQLAlchemy's public name

    def touch_session(self, token_hash: str, at: str) -> None:
        """Note that a sign-in was used."""
        changed = update(tables.sessions).where(tables.sessions.c.token_hash == token_hash)
        self._connection.execute(changed.values(last_used=at))

    def end_session(self, token_hash: str, at: str) -> None:
        """End one sign-in."""
        open_one = and_(tables.sessions.c.token_hash == token_hash, tables.sessions.c.ended.is_(None))
        self._connection.execute(update(tables.sessions).where(open_one).values(ended=at))

    def end_sessions_of(self, at: str, *, person_id: str | None = None, device_id: str | None = None) -> None:
        """End every open sign-in of a person or on a device."""
        columns = tables.sessions.c
        whose = columns.person_id == person_id if person_id else columns.device_id == device_id
        ended = update(tables.sessions).where(and_(whose, columns.ended.is_(None))).values(ended=at)
        self._connection.execute(ended)

    def note_failure(self, name_hash: str, at: str) -> None:
        """Count one failed sign-in, and forget those of a day before, which count no more."""
        day_before = stamp(datetime.fromisoformat(at) - timedelta(days=1))
        self._connection.execute(
            delete(tables.sign_in_failures).where(tables.sign_in_failures.c.at < day_before)
        )
        self._connection.execute(insert(tables.sign_in_failures).values(name_hash=name_hash, at=at))

    def failures_since(self, name_hash: str, since: str) -> int:
        """Return how many sign-ins of this name failed since then."""
        columns = tables.sign_in_failures.c
        which = and_(columns.name_hash == name_hash, columns.at > since)
        count = select(func.count()).select_from(tables.sign_in_failures).where(which)
        return int(self._connection.execute(count).scalar_one())

    def _person(self, condition: Any) -> Person | None:  # noqa: ANN401 - an SQL expression
        row = self._connection.execute(select(tables.persons).where(condition)).first()
        return self._with_roles(row) if row else None

    def _with_roles(self, row: Row[Any]) -> Person:
        held = select(tables.roles.c.role).where(tables.roles.c.person_id == row.id)
        values = {f.name: getattr(row, f.name) for f in fields(Person) if f.name != "roles"}
        return Person(**values, roles=frozenset(self._connection.execute(held).scalars()))


def _site(row: Row[Any]) -> Site:
    return Site(row.id, row.name, json.loads(row.rules))


def _device(row: Row[Any]) -> Device:
    return Device(**row._mapping)  # noqa: SLF001 - SQLAlchemy's public name
