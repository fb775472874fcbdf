"""The contact chart of one valve: rotors with their trip points, contacts that make or break at the trip.

A rotor trips when the travel reaches `trip_pct` while moving towards `trips_towards`; on the way back it
resets a differential earlier. A contact *makes* (closes at the trip) or *breaks* (opens at the trip). Whether
that fits the switch follows from the layout's `along_means`: contacts of one bar act alike where it is equal
and oppositely where it differs, on the other bar of the rotor the reverse. A chart that contradicts its own
switch cannot be built; one that is merely dangerous can (`chart_dangers`), so that it can be recorded as
found.
"""

import math
from collections import Counter
from dataclasses import dataclass, field
from typing import Literal

from service.domain.layout import Place, SwitchLayout, other_bar
from service.domain.refusals import BadDefinition
from service.domain.travel import Direction

Action = Literal["makes", "breaks"]
Role = Literal["closed_end", "open_end", "auxiliary"]
Seating = Literal["limit", "torque"]
Circuit = Literal[
    "stops_closing",
    "stops_opening",
    "bypasses_closing_torque",
    "bypasses_opening_torque",
    "lamp",
    "remote",
    "interlock",
    "heater",
    "foreign",
    "spare",
]
STOPS: dict[Circuit, Direction] = {"stops_closing": "closed", "stops_opening": "open"}
"""The circuits that stop the motor, and the direction of movement that each of them stops."""


@dataclass(frozen=True, slots=True)
class Rotor:
    """One rotor: where it trips, which way, and how far back it resets; all in percent of travel."""

    id: str
    trips_towards: Direction
    trip_pct: float
    differential_pct: float
    role: Role = "auxiliary"

    @property
    def reset_pct(self) -> float:
        """The travel at which a tripped rotor resets on the way back."""
        back = self.differential_pct
        return self.trip_pct - back if self.trips_towards == "open" else self.trip_pct + back


@dataclass(frozen=True, slots=True)
class Contact:
    """One contact of the chart.

    `label` is what people say, `place` the contact's identifier in the layout, `use` what its circuit is for
    in the site's words, `circuit` the kind of that circuit, `spoken` its name as people say it when
    they measure on it (empty: as `use`), `voltage_v` the voltage on it in volts (None where unknown).
    """

    label: str
    rotor: str
    bar: str
    place: str
    action: Action
    use: str
    voltage_v: float | None = None
    circuit: Circuit = "spare"
    spoken: str = ""


@dataclass(frozen=True)
class ContactChart:
    """Which contact of one valve does what at which travel, and what its circuit is for.

    `closed_end` and `open_end` say whether the limit or the torque switch stops the drive there,
    `drive_turns` how many turns of the drive were counted stop to stop.

    Raises
    ------
    BadDefinition
        The chart contradicts itself or its switch; the message names the field and the reason.

    """

    valve: str
    layout: SwitchLayout
    rotors: tuple[Rotor, ...]
    contacts: tuple[Contact, ...]
    closed_end: Seating = "limit"
    open_end: Seating = "limit"
    drawing: str = ""
    layout_file: str = ""
    drive_turns: float | None = None
    along_at_rest: dict[str, str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        for number, rotor in enumerate(self.rotors):
            _check_rotor(rotor, self.layout, f"rotors[{number}]")
        _refuse_twice([rotor.id for rotor in self.rotors], "rotors", "The rotor")
        for number, contact in enumerate(self.contacts):
            self._check_contact(contact, f"contacts[{number}]")
        _refuse_twice([contact.label for contact in self.contacts], "contacts", "The label")
        _refuse_twice([contact.place for contact in self.contacts], "contacts", "The place")
        along = {rotor.id: self._rest_bar(rotor.id) for rotor in self.rotors}
        object.__setattr__(self, "along_at_rest", {key: bar for key, bar in along.items() if bar})

    def rotor(self, identifier: str) -> Rotor:
        """Return the rotor of that identifier; raises BadDefinition where the chart has none."""
        for rotor in self.rotors:
            if rotor.id == identifier:
                return rotor
        raise BadDefinition(f"The chart has no rotor {identifier}.", field="rotor")

    def contact(self, label: str) -> Contact:
        """Return the contact of that spoken label; raises BadDefinition where the chart has none."""
        for contact in self.contacts:
            if contact.label == label:
                return contact
        raise BadDefinition(f"The chart has no contact {label}.", field="contact")

    def contacts_of(self, rotor: str) -> tuple[Contact, ...]:
        """Return the contacts of one rotor, in the order of the chart."""
        return tuple(contact for contact in self.contacts if contact.rotor == rotor)

    def end_rotors(self, end: Direction) -> tuple[Rotor, ...]:
        """Return the rotors that are set at one end of travel."""
        return tuple(rotor for rotor in self.rotors if rotor.role == f"{end}_end")

    def _check_contact(self, contact: Contact, where: str) -> None:
        if not contact.label.strip():
            raise BadDefinition("A contact has no label to say.", field=f"{where}.label")
        place = self.layout.place(contact.place)
        if place is None:
            raise BadDefinition(
                f"Contact {contact.label} sits at {contact.place}, which layout {self.layout.id} does not "
                "have.",
                field=f"{where}.place",
            )
        if (contact.rotor, contact.bar) != (place.rotor, place.bar):
            raise BadDefinition(
                f"Contact {contact.label} is said to sit on the {contact.bar} bar of rotor {contact.rotor}, "
                f"but {contact.place} is on the {place.bar} bar of rotor {place.rotor}.",
                field=f"{where}.place",
            )
        if all(contact.rotor != rotor.id for rotor in self.rotors):
            raise BadDefinition(
                f"Contact {contact.label} sits on rotor {contact.rotor}, for which the chart gives no trip "
                "point.",
                field=f"{where}.place",
            )
        if contact.voltage_v is not None and not (
            math.isfinite(contact.voltage_v) and contact.voltage_v >= 0
        ):
            raise BadDefinition(
                f"The voltage on contact {contact.label} is {contact.voltage_v:g} V; it is zero or more.",
                field=f"{where}.voltage_v",
            )

    def _rest_bar(self, rotor: str) -> str | None:
        """Return the bar that lies along its fingers while the rotor is at rest; None without contacts."""
        first: tuple[Contact, str] | None = None
        for number, contact in enumerate(self.contacts):
            if contact.rotor != rotor:
                continue
            bar = rest_bar_of(contact.action, self._place(contact))
            if first is None:
                first = (contact, bar)
            elif bar != first[1]:
                raise BadDefinition(
                    _contradiction(first[0], contact, self._place(first[0]), self._place(contact)),
                    field=f"contacts[{number}].action",
                )
        return first[1] if first else None

    def _place(self, contact: Contact) -> Place:
        place = self.layout.place(contact.place)
        if place is None:  # unreachable after _check_contact; kept so that no guess is ever made
            raise BadDefinition(f"The layout has no place {contact.place}.", field="contacts")
        return place


def rest_bar_of(action: Action, place: Place) -> str:
    """Return the bar that must lie along at rest so that a contact at `place` makes or breaks at the trip."""
    closed_at_rest = action == "breaks"
    along = closed_at_rest == (place.along_means == "closed")
    return place.bar if along else other_bar(place.bar)


def _contradiction(first: Contact, second: Contact, here: Place, there: Place) -> str:
    """Say in a technician's words why two contacts of one rotor cannot act as the chart wants."""
    together = "closed together" if first.action != second.action else "never acting alike"
    relation = "the same bar" if here.bar == there.bar else "the two bars"
    return (
        f"Contacts {first.label} ({first.action}) and {second.label} ({second.action}) sit on {relation} of "
        "rotor "
        f"{first.rotor} and mean {here.along_means} and {there.along_means} when their bar lies along: "
        f"built so, they would be {together}. One of them cannot do what the chart says."
    )


def _check_rotor(rotor: Rotor, layout: SwitchLayout, where: str) -> None:
    if rotor.id not in layout.rotors:
        raise BadDefinition(f"Layout {layout.id} has no rotor {rotor.id}.", field=f"{where}.id")
    if not (math.isfinite(rotor.trip_pct) and 0 <= rotor.trip_pct <= 100):
        raise BadDefinition(
            f"Rotor {rotor.id} would trip at {rotor.trip_pct:g} %, outside the travel of 0 to 100 %.",
            field=f"{where}.trip_pct",
        )
    if not (math.isfinite(rotor.differential_pct) and rotor.differential_pct >= 0):
        raise BadDefinition(
            f"The differential of rotor {rotor.id} is {rotor.differential_pct:g} %; it is zero or more.",
            field=f"{where}.differential_pct",
        )
    if not 0 < rotor.reset_pct < 100:
        raise BadDefinition(
            f"Rotor {rotor.id} would reset at {rotor.reset_pct:g} %, at the very end of the travel or "
            "beyond: "
            "once tripped it never resets.",
            field=f"{where}.differential_pct",
        )
    if rotor.role not in {"auxiliary", f"{rotor.trips_towards}_end"}:
        raise BadDefinition(
            f"Rotor {rotor.id} is set at the {rotor.role.removesuffix('_end')} end but trips towards "
            f"{rotor.trips_towards}.",
            field=f"{where}.trips_towards",
        )


def _refuse_twice(names: list[str], where: str, what: str) -> None:
    for name, count in Counter(names).items():
        if count > 1:
            raise BadDefinition(f"{what} {name} occurs twice.", field=where)
