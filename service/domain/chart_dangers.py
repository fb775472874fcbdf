"""What makes a contact chart dangerous to set: it can be recorded as found, never used as the chart to set.

1. A motor-limit contact that does not break at its own end.
2. An end that is stopped by the limit, and nothing stops the drive there.
3. End rotors that are tripped at the same travel: crossed or wrongly set, or one that cannot reset in time.
4. A limit that stops the drive at the hard stop itself: nothing is left for the coast, and it may never trip.
"""

from dataclasses import dataclass

from service.domain.chart import STOPS, Contact, ContactChart, Rotor
from service.domain.refusals import BadDefinition
from service.domain.travel import Direction


@dataclass(frozen=True, slots=True)
class Danger:
    """One reason why a chart must not be set: the field at fault and a technician's sentence."""

    field: str
    reason: str


def dangers(chart: ContactChart) -> tuple[Danger, ...]:
    """Return every danger of a chart, in the order of this module's list."""
    return (
        *_wrong_stops(chart),
        *_unstopped_ends(chart),
        *_ends_that_overlap(chart),
        *_stops_at_the_hard_stop(chart),
    )


def require_settable(chart: ContactChart) -> ContactChart:
    """Return the chart if nothing about it is dangerous.

    Raises
    ------
    BadDefinition
        With the first danger; the chart may still be recorded as found.

    """
    for danger in dangers(chart):
        raise BadDefinition(danger.reason, field=danger.field, hint="Such a chart is only recorded as found.")
    return chart


def stops_at(chart: ContactChart, end: Direction) -> tuple[Contact, ...]:
    """Return the contacts that stop the motor at an end: in its circuit, breaking, on a rotor set there."""
    return tuple(
        contact
        for contact in chart.contacts
        if STOPS.get(contact.circuit) == end
        and contact.action == "breaks"
        and chart.rotor(contact.rotor).role == f"{end}_end"
    )


def _wrong_stops(chart: ContactChart) -> list[Danger]:
    """(1) Each motor-limit contact breaks when its rotor trips towards the end that it stops."""
    found = []
    for number, contact in enumerate(chart.contacts):
        end = STOPS.get(contact.circuit)
        if end is None:
            continue
        rotor = chart.rotor(contact.rotor)
        where = f"contacts[{number}]"
        if rotor.trips_towards != end:
            reason = (
                f"Contact {contact.label} stops the motor at the {end} end, but its rotor {rotor.id} trips "
                "towards "
                f"{rotor.trips_towards}: it does not break at its own end."
            )
            found.append(Danger(f"{where}.circuit", reason))
        elif contact.action != "breaks":
            reason = (
                f"Contact {contact.label} stops the motor at the {end} end, but it makes there: a contact "
                "that "
                "stops a motor breaks at its own end."
            )
            found.append(Danger(f"{where}.action", reason))
    return found


def _unstopped_ends(chart: ContactChart) -> list[Danger]:
    """(2) Each end stopped by the limit has a contact that stops the drive there."""
    return [
        Danger(
            f"{end}_end",
            f"The {end} end is to be stopped by the limit, but no contact breaks the motor's circuit there: "
            "nothing "
            "stops the drive at that end.",
        )
        for end, seating in _ends(chart)
        if seating == "limit" and not stops_at(chart, end)
    ]


def _ends_that_overlap(chart: ContactChart) -> list[Danger]:
    """(3) No travel has rotors of both ends tripped, whatever the history."""
    return [
        Danger(f"rotors[{chart.rotors.index(low)}].trip_pct", _overlap(low, high))
        for low in chart.end_rotors("closed")
        for high in chart.end_rotors("open")
        if low.reset_pct >= high.reset_pct
    ]


def _stops_at_the_hard_stop(chart: ContactChart) -> list[Danger]:
    """(4) A limit that stops the drive trips short of the hard stop."""
    return [
        Danger(
            f"rotors[{chart.rotors.index(rotor)}].trip_pct",
            f"Rotor {rotor.id} stops the drive at {rotor.trip_pct:g} %, the hard stop itself: nothing is left for the "
            "coast.",
        )
        for end, seating in _ends(chart)
        for rotor in chart.end_rotors(end)
        if seating == "limit"
        and rotor.trip_pct in {0.0, 100.0}
        and any(contact.rotor == rotor.id for contact in stops_at(chart, end))
    ]


def _overlap(low: Rotor, high: Rotor) -> str:
    if low.trip_pct >= high.trip_pct:
        return (
            f"Rotor {low.id} of the closed end trips at {low.trip_pct:g} % and rotor {high.id} of the open "
            "end at "
            f"{high.trip_pct:g} %: their trip points overlap, the ends are crossed or wrongly set."
        )
    return (
        f"Rotor {low.id} of the closed end resets at {low.reset_pct:g} % and rotor {high.id} of the open "
        "end at "
        f"{high.reset_pct:g} %: between those both can be tripped and neither direction would run."
    )


def _ends(chart: ContactChart) -> tuple[tuple[Direction, str], ...]:
    return (("closed", chart.closed_end), ("open", chart.open_end))
