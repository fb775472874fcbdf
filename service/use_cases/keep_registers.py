"""Keep the registers of a site: the site itself, persons with their roles, first passwords.

The very first person is an administrator, let in by a one-time link that the service prints at its first
start; there is no default account.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import timedelta

from service.domain.people import ROLES
from service.domain.refusals import Conflict, Malformed, NotFound, NotSignedIn
from service.ports import Asker, Device, Invitation, Person, Ports, Site, Transaction, stamp
from service.use_cases.sign_in import require_role


@dataclass(frozen=True)
class NewPerson:
    """Who is to be added: the name people know, the name for signing in, the roles."""

    name: str
    sign_in_name: str
    roles: Iterable[str]


def start_site(ports: Ports, name: str) -> tuple[Site, str] | None:
    """Make the first site with its administrator.

    Returns the site and a one-time token for the administrator's password, or None where a site exists.
    """
    with ports.transactions.writing() as tx:
        if tx.registers.sites():
            return None
        site = Site(ports.new_id(), name, {})
        tx.registers.add_site(site, stamp(ports.clock.now()))
        first = NewPerson("Administrator", "administrator", ["administrator"])
        return site, invite_person(ports, tx, put_person(ports, tx, site.id, first))


def add_person(ports: Ports, asker: Asker, new: NewPerson) -> tuple[Person, str]:
    """Add a person to the asker's site; return it and the one-time token for its first password."""
    require_role(asker, "administrator")
    with ports.transactions.writing() as tx:
        person = put_person(ports, tx, asker.site_id, new)
        return person, invite_person(ports, tx, person)


def put_person(ports: Ports, tx: Transaction, site_id: str, new: NewPerson) -> Person:
    """Add a person within a transaction; raises Conflict where the sign-in name is taken."""
    held = known_roles(new.roles)
    name, sign_in_name = new.name.strip(), new.sign_in_name.strip()
    if not name or not sign_in_name:
        raise Malformed("A person has a name and a sign-in name.", field="name")
    if tx.registers.person_by_sign_in_name(sign_in_name):
        raise Conflict(f"The sign-in name {sign_in_name} is taken.", field="sign_in_name")
    person = Person(ports.new_id(), site_id, name, sign_in_name, password=None, active=True, roles=held)
    tx.registers.add_person(person, stamp(ports.clock.now()))
    return person


def known_roles(roles: Iterable[str]) -> frozenset[str]:
    """Return roles as a set; raises Malformed for one that there is not."""
    held = frozenset(roles)
    unknown = held - set(ROLES)
    if unknown:
        raise Malformed(f"There is no role {min(unknown)}; there are {', '.join(ROLES)}.", field="roles")
    return held


def persons_of(ports: Ports, asker: Asker) -> list[Person]:
    """Return the persons of the asker's site."""
    with ports.transactions.reading() as tx:
        return tx.registers.persons(asker.site_id)


def devices_of(ports: Ports, asker: Asker) -> list[Device]:
    """Return the devices of the asker's site."""
    require_role(asker, "administrator")
    with ports.transactions.reading() as tx:
        return tx.registers.devices(asker.site_id)


def set_roles(ports: Ports, asker: Asker, person_id: str, roles: Iterable[str]) -> Person:
    """Replace a person's roles."""
    require_role(asker, "administrator")
    held = known_roles(roles)
    with ports.transactions.writing() as tx:
        person = person_here(tx, asker, person_id)
        tx.registers.set_roles(person.id, asker.site_id, held)
        return person_here(tx, asker, person_id)


def disable_person(ports: Ports, asker: Asker, person_id: str) -> None:
    """Disable an account and end every sign-in of it; the person's entries stay as they are."""
    require_role(asker, "administrator")
    with ports.transactions.writing() as tx:
        person = person_here(tx, asker, person_id)
        if person.id == asker.person_id:
            raise Conflict("Nobody disables their own account.")
        tx.registers.set_active(person.id, active=False)
        tx.registers.end_sessions_of(stamp(ports.clock.now()), person_id=person.id)


def invite_again(ports: Ports, asker: Asker, person_id: str) -> str:
    """Return a new one-time token with which a person sets a password; ends the person's sign-ins."""
    require_role(asker, "administrator")
    with ports.transactions.writing() as tx:
        person = person_here(tx, asker, person_id)
        tx.registers.end_sessions_of(stamp(ports.clock.now()), person_id=person.id)
        return invite_person(ports, tx, person)


def take_password(ports: Ports, token: str, password: str) -> Person:
    """Use a one-time token to set a password; raises NotSignedIn for a used, expired or unknown token."""
    hashed = ports.passwords.hashed(password)
    with ports.transactions.writing() as tx:
        invitation = tx.registers.use_invitation(ports.tokens.digest(token), stamp(ports.clock.now()))
        if invitation is None or invitation.purpose != "password" or invitation.person_id is None:
            raise NotSignedIn("This link was used or has expired.", hint="Ask an administrator for another.")
        tx.registers.set_password(invitation.person_id, hashed)
        person = tx.registers.person(invitation.person_id)
        if person is None:
            raise NotFound("The person of this link is gone.")
        return person


def invite_person(ports: Ports, tx: Transaction, person: Person) -> str:
    """Make a one-time token with which a person sets a password."""
    return _invite(ports, tx, Invitation("", person.site_id, "password", person.id, person.name, "", ""))


def invite_device(ports: Ports, tx: Transaction, site_id: str, name: str) -> str:
    """Make a one-time token with which a device enrols under this name."""
    return _invite(ports, tx, Invitation("", site_id, "device", None, name, "", ""))


def _invite(ports: Ports, tx: Transaction, draft: Invitation) -> str:
    token = ports.tokens.new()
    now = ports.clock.now()
    ends = stamp(now + timedelta(seconds=ports.limits.enrolment_life_s))
    kept = replace(draft, token_hash=ports.tokens.digest(token), created=stamp(now), expires=ends)
    tx.registers.add_invitation(kept)
    return token


def person_here(tx: Transaction, asker: Asker, person_id: str) -> Person:
    """Return a person of the asker's site; raises NotFound."""
    person = tx.registers.person(person_id)
    if person is None or person.site_id != asker.site_id:
        raise NotFound("There is no such person on this site.", field="person")
    return person
