"""The registers of a site: persons, roles, devices."""

from fastapi import APIRouter

from service.api.asking import TheAsker, ThePorts
from service.api.problems import documented
from service.api.wire import (
    DeviceAnswer,
    DeviceNameRequest,
    EnrolmentAnswer,
    EnrolmentRequest,
    InvitationAnswer,
    NewPersonAnswer,
    PersonAnswer,
    PersonRequest,
    RolesRequest,
)
from service.ports import Ports
from service.use_cases import enrol_device, keep_registers

router = APIRouter(prefix="/v1", tags=["registers"])


@router.get("/persons", responses=documented(), summary="Persons of the site")
def persons(ports: ThePorts, asker: TheAsker) -> list[PersonAnswer]:
    """List the persons of the asker's site."""
    return [PersonAnswer.of(person) for person in keep_registers.persons_of(ports, asker)]


@router.post("/persons", status_code=201, responses=documented(409), summary="Add a person")
def add_person(ports: ThePorts, asker: TheAsker, message: PersonRequest) -> NewPersonAnswer:
    """Add a person and return the one-time token for the first password. Administrators only."""
    new = keep_registers.NewPerson(message.name, message.sign_in_name, message.roles)
    person, token = keep_registers.add_person(ports, asker, new)
    return NewPersonAnswer(person=PersonAnswer.of(person), invitation=_invitation(ports, token))


@router.put("/persons/{person}/roles", responses=documented(404), summary="Set a person's roles")
def set_roles(ports: ThePorts, asker: TheAsker, person: str, message: RolesRequest) -> PersonAnswer:
    """Replace a person's roles. Administrators only."""
    return PersonAnswer.of(keep_registers.set_roles(ports, asker, person, message.roles))


@router.post(
    "/persons/{person}/invitation", status_code=201, responses=documented(404), summary="Invite again"
)
def invite(ports: ThePorts, asker: TheAsker, person: str) -> InvitationAnswer:
    """Return a new one-time token for a password; the person's sign-ins end. Administrators only."""
    return _invitation(ports, keep_registers.invite_again(ports, asker, person))


@router.delete(
    "/persons/{person}", status_code=204, responses=documented(404, 409), summary="Disable a person"
)
def disable(ports: ThePorts, asker: TheAsker, person: str) -> None:
    """Disable an account and end its sign-ins. What the person did stays. Administrators only."""
    keep_registers.disable_person(ports, asker, person)


@router.get("/devices", responses=documented(), summary="Devices of the site")
def devices(ports: ThePorts, asker: TheAsker) -> list[DeviceAnswer]:
    """List the devices of the site with their clock offsets. Administrators only."""
    return [DeviceAnswer.of(device) for device in keep_registers.devices_of(ports, asker)]


@router.post("/devices/invitations", status_code=201, responses=documented(), summary="Offer an enrolment")
def offer(ports: ThePorts, asker: TheAsker, message: DeviceNameRequest) -> InvitationAnswer:
    """Return a one-time token that enrols one device. Administrators only."""
    return _invitation(ports, enrol_device.offer_enrolment(ports, asker, message.name))


@router.post("/devices", status_code=201, responses=documented(), summary="Enrol this device")
def enrol(ports: ThePorts, message: EnrolmentRequest) -> EnrolmentAnswer:
    """Enrol by the one-time token; needs no sign-in. The device keeps the token that it gets."""
    device, token = enrol_device.enrol_device(ports, message.token)
    return EnrolmentAnswer(device=DeviceAnswer.of(device), device_token=token)


@router.delete("/devices/{device}", status_code=204, responses=documented(404), summary="Revoke a device")
def revoke(ports: ThePorts, asker: TheAsker, device: str) -> None:
    """Revoke a device and end the sign-ins on it. Administrators only."""
    enrol_device.revoke_device(ports, asker, device)


def _invitation(ports: Ports, token: str) -> InvitationAnswer:
    return InvitationAnswer(token=token, expires_in_s=ports.limits.enrolment_life_s)
