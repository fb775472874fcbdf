"""Sign in, be recognised, prove oneself again, sign out.

A sign-in is an opaque token of which only the hash is stored. It ends by sign-out, by inactivity, at its
absolute age, when the person is disabled and when the device is revoked. A new token replaces the old one
whenever the password was given again.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from service.domain.refusals import NotAllowed, NotSignedIn, TooBusy
from service.ports import Asker, Device, Person, Ports, Session, Transaction, stamp

TOUCH_EVERY = timedelta(seconds=20)
"""How exactly the last use of a sign-in is kept.

A write for every request would wait for the disk each time.
"""

WRONG = "Name and password do not fit together."


@dataclass(frozen=True)
class SignedIn:
    """A new sign-in: the token (told once, never stored) and who it stands for."""

    token: str
    asker: Asker


def sign_in(ports: Ports, name: str, password: str, device_token: str | None = None) -> SignedIn:
    """Sign a person in, on an enrolled device where its token is given.

    Raises NotSignedIn for a wrong name or password (the same words for both), TooBusy after too many
    failures, and NotAllowed for a device that is not enrolled, revoked or expired.
    """
    now = ports.clock.now()
    key = ports.tokens.digest(name.strip().lower())
    with ports.transactions.reading() as tx:
        _require_few_failures(ports, tx, key, now)
        person = tx.registers.person_by_sign_in_name(name.strip())
    # The slow comparison stands outside any transaction, so that it holds no lock.
    fits = ports.passwords.matches(password, person.password if person else None)
    with ports.transactions.writing() as tx:
        if person is None or not fits or not person.active:
            tx.registers.note_failure(key, stamp(now))
        else:
            device = device_of(ports, tx, device_token, person.site_id)
            return _start(ports, tx, person, device.id if device else None)
    raise NotSignedIn(WRONG)


def recognise(ports: Ports, token: str | None) -> Asker:
    """Return who a token stands for, and note its use; raises NotSignedIn or NotAllowed."""
    if not token:
        raise NotSignedIn("This needs a sign-in; nothing that was received is lost.")
    now = ports.clock.now()
    with ports.transactions.reading() as tx:
        session = tx.registers.session(ports.tokens.digest(token))
        if session is None or not _is_open(ports, session, now):
            raise NotSignedIn("The sign-in has ended; sign in again. Nothing that was received is lost.")
        person = tx.registers.person(session.person_id)
        if person is None or not person.active:
            raise NotSignedIn("This account is disabled.")
        if session.device_id is not None:
            _require_usable(tx.registers.device(session.device_id), now)
    if now - datetime.fromisoformat(session.last_used) > TOUCH_EVERY:
        with ports.transactions.writing() as tx:
            tx.registers.touch_session(session.token_hash, stamp(now))
    return _asker(person, session)


def prove_again(ports: Ports, asker: Asker, password: str) -> SignedIn:
    """Take the password again before something that matters; a fresh token takes the place of the old."""
    now = ports.clock.now()
    key = ports.tokens.digest(f"person {asker.person_id}")
    with ports.transactions.reading() as tx:
        _require_few_failures(ports, tx, key, now)
        person = tx.registers.person(asker.person_id)
    fits = person is not None and ports.passwords.matches(password, person.password)
    with ports.transactions.writing() as tx:
        if fits and person is not None:
            tx.registers.end_session(asker.session.token_hash, stamp(now))
            return _start(ports, tx, person, asker.device_id, started=asker.session.started)
        tx.registers.note_failure(key, stamp(now))
    raise NotSignedIn("The password does not fit; the earlier sign-in stays as it is.")


def sign_out(ports: Ports, asker: Asker) -> None:
    """End this sign-in."""
    with ports.transactions.writing() as tx:
        tx.registers.end_session(asker.session.token_hash, stamp(ports.clock.now()))


def is_fresh(ports: Ports, asker: Asker) -> bool:
    """Tell whether the password was given so lately that it counts as a fresh sign-in."""
    age = ports.clock.now() - datetime.fromisoformat(asker.session.proved)
    return timedelta(0) <= age <= timedelta(seconds=ports.limits.fresh_sign_in_s)


def require_fresh(ports: Ports, asker: Asker) -> None:
    """Refuse where the sign-in is not fresh, and say how to make it so."""
    if not is_fresh(ports, asker):
        raise NotAllowed(
            "This needs a fresh sign-in.",
            hint=f"Give the password again; it counts for {ports.limits.fresh_sign_in_s} seconds.",
        )


def require_role(asker: Asker, *roles: str) -> None:
    """Refuse who holds none of these roles."""
    if not asker.roles & set(roles):
        raise NotAllowed(f"This needs the role {' or '.join(roles)}.")


def device_of(ports: Ports, tx: Transaction, token: str | None, site_id: str) -> Device | None:
    """Return the usable device of a token; None where no token was given."""
    if not token:
        return None
    device = tx.registers.device_by_token(ports.tokens.digest(token))
    if device is None or device.site_id != site_id:
        raise NotAllowed("This device is not enrolled here.", field="device_token")
    _require_usable(device, ports.clock.now())
    return device


def _require_usable(device: Device | None, now: datetime) -> None:
    if device is None or device.revoked is not None:
        raise NotAllowed(
            "This device was revoked. What it still holds can be handed in after enrolling again."
        )
    if device.expires <= stamp(now):
        raise NotAllowed("The enrolment of this device has expired; enrol it again.")


def _require_few_failures(ports: Ports, tx: Transaction, key: str, now: datetime) -> None:
    since = stamp(now - timedelta(seconds=ports.limits.sign_in_window_s))
    if tx.registers.failures_since(key, since) >= ports.limits.sign_in_attempts:
        wait = ports.limits.sign_in_window_s
        raise TooBusy("Too many failed sign-ins; wait before the next.", retry_after_s=wait, status=429)


def _is_open(ports: Ports, session: Session, now: datetime) -> bool:
    idle = now - datetime.fromisoformat(session.last_used)
    age = now - datetime.fromisoformat(session.started)
    limits = ports.limits
    return (
        session.ended is None
        and idle <= timedelta(seconds=limits.session_idle_s)
        and age <= timedelta(seconds=limits.session_life_s)
    )


def _start(
    ports: Ports, tx: Transaction, person: Person, device_id: str | None, started: str | None = None
) -> SignedIn:
    token = ports.tokens.new()
    now = stamp(ports.clock.now())
    hashed = ports.tokens.digest(token)
    session = Session(hashed, person.site_id, person.id, device_id, started or now, now, now)
    tx.registers.add_session(session)
    return SignedIn(token, _asker(person, session))


def _asker(person: Person, session: Session) -> Asker:
    return Asker(person.site_id, person.id, person.name, person.roles, session, session.device_id)
