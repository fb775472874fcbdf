"""Enrol a device by a one-time token, and revoke it. A device is not a person: independence is by person."""

from datetime import timedelta

from service.domain.refusals import Malformed, NotFound, NotSignedIn
from service.ports import Asker, Device, Ports, stamp
from service.use_cases.keep_registers import invite_device
from service.use_cases.sign_in import require_role


def offer_enrolment(ports: Ports, asker: Asker, name: str) -> str:
    """Return a one-time token that enrols one device under this name."""
    require_role(asker, "administrator")
    if not name.strip():
        raise Malformed("A device has a name that people know it by.", field="name")
    with ports.transactions.writing() as tx:
        return invite_device(ports, tx, asker.site_id, name.strip())


def enrol_device(ports: Ports, token: str) -> tuple[Device, str]:
    """Enrol a device; return it and its own token, told once.

    Raises NotSignedIn for a token that was used or has expired.
    """
    now = ports.clock.now()
    with ports.transactions.writing() as tx:
        invitation = tx.registers.use_invitation(ports.tokens.digest(token), stamp(now))
        if invitation is None or invitation.purpose != "device":
            raise NotSignedIn(
                "This enrolment was used or has expired.", hint="Ask an administrator for another."
            )
        own = ports.tokens.new()
        ends = stamp(now + timedelta(seconds=ports.limits.device_life_s))
        hashed = ports.tokens.digest(own)
        device = Device(ports.new_id(), invitation.site_id, invitation.name, hashed, stamp(now), ends)
        tx.registers.add_device(device)
        return device, own


def revoke_device(ports: Ports, asker: Asker, device_id: str) -> None:
    """Revoke a device and end every sign-in on it; what it sent before stays as it is."""
    require_role(asker, "administrator")
    with ports.transactions.writing() as tx:
        device = tx.registers.device(device_id)
        if device is None or device.site_id != asker.site_id:
            raise NotFound("There is no such device on this site.", field="device")
        tx.registers.revoke_device(device.id, stamp(ports.clock.now()))
        tx.registers.end_sessions_of(stamp(ports.clock.now()), device_id=device.id)
