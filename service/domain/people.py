"""Roles of people, and what makes the second person independent: by person, never by account or device.

Whoever took part in a job can't be its verifier, and whoever judged or released in it can't take part in it
afterwards. Two kinds of second check are told apart and never reported as the same: *independent* (separate in time
and distance, DOE-STD-1036-93) and *concurrent* (a second person on site, who identifies the component for himself and
watches), which is labelled as such.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from service.domain.refusals import NotAllowed

Role = Literal["technician", "verifier", "engineer", "administrator"]
ROLES: tuple[Role, ...] = get_args(Role)
Mode = Literal["independent", "concurrent"]
MODES: tuple[Mode, ...] = get_args(Mode)


@dataclass(frozen=True, slots=True)
class Person:
    """A person of a site: `id` stays the same over accounts, devices and roles."""

    id: str
    name: str
    roles: frozenset[Role]


def must_have_role(person: Person | None, role: Role, what: str) -> None:
    """Refuse somebody who is unknown to the job or lacks the role.

    Raises
    ------
    NotAllowed
        With the name, the role and what was tried.

    """
    if person is None:
        raise NotAllowed(f"This person is not named in the job, so cannot {what}.", field="person")
    if role not in person.roles:
        raise NotAllowed(f"{person.name} is no {role} of this job, so cannot {what}.", field="person")


def must_be_independent(person: str, took_part: Iterable[str], name: str = "") -> None:
    """Refuse a verifier who took part in the job.

    Raises
    ------
    NotAllowed
        The person made, said or handed over something in this job.

    """
    if person in set(took_part):
        raise NotAllowed(
            f"{name or person} took part in this job and cannot be its verifier.",
            field="person",
            hint="Ask a person who has had no part in it.",
        )


def must_not_have_judged(person: str, judged: Iterable[str], name: str = "") -> None:
    """Refuse a technician who has judged or released in the job.

    Raises
    ------
    NotAllowed
        The person gave a judgement, an opinion or an independent release in this job.

    """
    if person in set(judged):
        raise NotAllowed(
            f"{name or person} has judged in this job as its second person and cannot take part in it.",
            field="person",
        )
