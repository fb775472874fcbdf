"""The switch layout as the rules need it: its rotors, their bars, and the contacts on them.

Geometry stays with the reader; here only the construction counts. A rotor carries two bars, turned by 90
degrees to each other, so in a legal position one of them lies along its spring fingers and the other across.
A contact either closes or opens when its bar lies along (`along_means`).
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from service.domain.refusals import BadDefinition

ContactState = Literal["closed", "open"]
BARS_OF_A_ROTOR = ("upper", "lower")


@dataclass(frozen=True, slots=True)
class Place:
    """One contact as built: `id` within the layout, its rotor and bar, and what a bar along means."""

    id: str
    rotor: str
    bar: str
    along_means: ContactState


@dataclass(frozen=True)
class SwitchLayout:
    """The construction of one switch type.

    Raises
    ------
    BadDefinition
        An identifier occurs twice, a place names a rotor or bar that is not there, or nothing is there at
        all.

    """

    id: str
    rotors: tuple[str, ...]
    contacts: tuple[Place, ...]

    def __post_init__(self) -> None:
        if not self.rotors:
            raise BadDefinition("A switch layout has at least one rotor.", field="rotors")
        _refuse_twice(self.rotors, "rotors", "rotor")
        _refuse_twice([place.id for place in self.contacts], "rotors", "contact")
        for place in self.contacts:
            if place.rotor not in self.rotors:
                raise BadDefinition(
                    f"Contact {place.id} sits on rotor {place.rotor}, which is not there.", field="rotors"
                )
            if place.bar not in BARS_OF_A_ROTOR:
                raise BadDefinition(
                    f"Contact {place.id} sits on a bar called {place.bar}; a rotor has an upper and a lower "
                    "bar.",
                    field="rotors",
                )

    @property
    def bars(self) -> tuple[tuple[str, str], ...]:
        """Every (rotor, bar), rotors in the order of the layout, upper before lower."""
        return tuple((rotor, bar) for rotor in self.rotors for bar in BARS_OF_A_ROTOR)

    def place(self, identifier: str) -> Place | None:
        """Return the contact of that identifier, or None where the layout has none."""
        return next((place for place in self.contacts if place.id == identifier), None)

    def places_of(self, rotor: str) -> tuple[Place, ...]:
        """Return the contacts of one rotor, in the order of the layout."""
        return tuple(place for place in self.contacts if place.rotor == rotor)


def state_on_bar(place: Place, *, along: bool) -> ContactState:
    """Return what a contact is while its bar lies along the fingers (`along`) or across them."""
    if along:
        return place.along_means
    return "open" if place.along_means == "closed" else "closed"


def other_bar(bar: str) -> str:
    """Return the other bar of a rotor: it lies across when this one lies along."""
    return "lower" if bar == "upper" else "upper"


def _refuse_twice(names: Iterable[str], field: str, what: str) -> None:
    twice = [name for name, count in Counter(names).items() if count > 1]
    if twice:
        raise BadDefinition(f"The {what} {twice[0]} occurs twice.", field=field)
