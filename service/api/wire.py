"""The shapes of messages about people, devices and sign-ins, with an example each."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field, model_validator

from service.ports import Asker, Device, Person


def encodable(text: str) -> str:
    """Return text that a file can hold; raises ValueError for half of a surrogate pair."""
    text.encode()
    return text


class Message(BaseModel):
    """A message of ours; a field that it does not name is a fault, not ignored."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @model_validator(mode="before")
    @classmethod
    def _is_encodable(cls, stated: Any) -> Any:  # noqa: ANN401 - whatever came
        for text in stated.values() if isinstance(stated, dict) else ():
            if isinstance(text, str):
                encodable(text)
        return stated


class SignInRequest(Message):
    """Name and password; `device_token` binds the sign-in to an enrolled device, which intake needs."""

    name: str = Field(max_length=200, examples=["oona.prell"])
    password: str = Field(max_length=1000, examples=["nine grey herons stand"])
    device_token: str | None = Field(None, max_length=200, examples=["tH3...of the device"])
    keep: str = Field(
        "bearer",
        pattern="^(bearer|cookie)$",
        description="bearer: token in the answer; cookie: HttpOnly cookie.",
    )


class PasswordRequest(Message):
    """The password once more."""

    password: str = Field(max_length=1000, examples=["nine grey herons stand"])


class FirstPasswordRequest(Message):
    """A one-time token and the password that it sets."""

    token: str = Field(max_length=200, examples=["kQ8...from the link"])
    password: str = Field(max_length=1000, examples=["nine grey herons stand"])


class SignInAnswer(Message):
    """Who is signed in. `token` is told once; it is null where the sign-in is kept in a cookie."""

    token: str | None = Field(examples=["xV2..."])
    person: str = Field(examples=["0197a0c4-2f6e-7bb1-9a53-3a2f1c9f0d11"])
    name: str = Field(examples=["Oona Prell"])
    roles: list[str] = Field(examples=[["technician"]])
    site: str
    device: str | None
    proved: str = Field(
        description="When the password was last given.", examples=["2031-05-06T07:08:09.000000Z"]
    )

    @classmethod
    def of(cls, asker: Asker, token: str | None = None) -> "SignInAnswer":
        """Tell who asks."""
        return cls(
            token=token,
            person=asker.person_id,
            name=asker.name,
            roles=sorted(asker.roles),
            site=asker.site_id,
            device=asker.device_id,
            proved=asker.session.proved,
        )


class PersonRequest(Message):
    """A person to add."""

    name: str = Field(min_length=1, max_length=200, examples=["Oona Prell"])
    sign_in_name: str = Field(min_length=1, max_length=200, examples=["oona.prell"])
    roles: list[str] = Field(max_length=4, examples=[["technician"]])


class RolesRequest(Message):
    """All roles that a person shall have."""

    roles: list[str] = Field(max_length=4, examples=[["verifier"]])


class PersonAnswer(Message):
    """A person of the site."""

    id: str
    name: str = Field(examples=["Oona Prell"])
    sign_in_name: str = Field(examples=["oona.prell"])
    roles: list[str] = Field(examples=[["technician"]])
    active: bool

    @classmethod
    def of(cls, person: Person) -> "PersonAnswer":
        """Tell a person, without anything secret."""
        return cls(
            id=person.id,
            name=person.name,
            sign_in_name=person.sign_in_name,
            roles=sorted(person.roles),
            active=person.active,
        )


class InvitationAnswer(Message):
    """A one-time token, told once; the link carries it in its fragment, which no server logs."""

    token: str = Field(examples=["kQ8..."])
    expires_in_s: int = Field(examples=[172800])


class NewPersonAnswer(Message):
    """A person just added, with the one-time token for the first password."""

    person: PersonAnswer
    invitation: InvitationAnswer


class DeviceNameRequest(Message):
    """The name that people know a device by."""

    name: str = Field(min_length=1, max_length=200, examples=["blue phone"])


class EnrolmentRequest(Message):
    """The one-time token that enrols this device."""

    token: str = Field(max_length=200, examples=["kQ8..."])


class DeviceAnswer(Message):
    """A device. `clock_offset_s` is its clock minus the service's, as estimated at its last delivery."""

    id: str
    name: str = Field(examples=["blue phone"])
    enrolled: str
    expires: str
    revoked: str | None
    clock_offset_s: float | None = Field(examples=[0.4])

    @classmethod
    def of(cls, device: Device) -> "DeviceAnswer":
        """Tell a device, without its token."""
        return cls(
            id=device.id,
            name=device.name,
            enrolled=device.enrolled,
            expires=device.expires,
            revoked=device.revoked,
            clock_offset_s=device.clock_offset_s,
        )


class EnrolmentAnswer(Message):
    """An enrolled device and its own token, told once; the device gives it at each sign-in."""

    device: DeviceAnswer
    device_token: str = Field(examples=["tH3..."])
