"""What every contact must be: at a travel reached by a history, and at a checkpoint that names rotor states.

Inside the differential the history of the movement decides, not the direction alone: a rotor that never
tripped is at rest there, one that tripped and has not come back far enough is still tripped. Where travel and
its uncertainty leave both open, the answer is `either`; a checkpoint that names the rotor's state leaves
nothing open.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import Literal, get_args

from service.domain.chart import Contact, ContactChart, Rotor
from service.domain.layout import other_bar
from service.domain.refusals import BadDefinition
from service.domain.stroke_zones import end_of, start_of, zones_of
from service.domain.travel import Direction, Travel

Expected = Literal["closed", "open", "either"]
RotorState = Literal["at_rest", "just_tripped", "still_tripped", "reset"]
ROTOR_STATES: tuple[RotorState, ...] = get_args(RotorState)
TRIPPED: Mapping[RotorState, bool] = {
    "at_rest": False,
    "just_tripped": True,
    "still_tripped": True,
    "reset": False,
}
"""Whether a rotor is tripped in each state that a checkpoint can name."""

BOTH = frozenset({True, False})


def possibly_tripped(rotor: Rotor, travel: Travel, history: Sequence[Travel] = ()) -> frozenset[bool]:
    """Return the states that a rotor can be in: {True} tripped, {False} not, both where it cannot be told.

    Parameters
    ----------
    rotor : Rotor
        With its trip point, trip direction and differential.
    travel : Travel
        Where the valve stands, with its uncertainty.
    history : sequence of Travel
        The turning points passed before, oldest first; between two of them the valve moved one way. What came
        before the first is unknown.

    Examples
    --------
    >>> rotor = Rotor("R1", "open", 90.0, 5.0)
    >>> possibly_tripped(rotor, Travel(87.0), [Travel(50.0)])
    frozenset({False})
    >>> possibly_tripped(rotor, Travel(87.0), [Travel(95.0)])
    frozenset({True})

    """
    states = BOTH
    for point in (*history, travel):
        states = frozenset(after for before in states for after in _moved(rotor, before, point))
    return states


def expected_rotors(
    chart: ContactChart, travel: Travel, history: Sequence[Travel] = ()
) -> dict[str, frozenset[bool]]:
    """Return for every rotor the states it can be in at this travel after this history."""
    return {rotor.id: possibly_tripped(rotor, travel, history) for rotor in chart.rotors}


def expected(chart: ContactChart, label: str, travel: Travel, history: Sequence[Travel] = ()) -> Expected:
    """Return what the contact of that label must be at a travel reached by a history."""
    contact = chart.contact(label)
    return _of_contact(contact, possibly_tripped(chart.rotor(contact.rotor), travel, history))


def expected_contacts(
    chart: ContactChart, travel: Travel, history: Sequence[Travel] = ()
) -> dict[str, Expected]:
    """Return what every contact must be, by label, at a travel reached by a history."""
    rotors = expected_rotors(chart, travel, history)
    return {contact.label: _of_contact(contact, rotors[contact.rotor]) for contact in chart.contacts}


def expected_along(
    chart: ContactChart, direction: Direction, travels: Sequence[float]
) -> list[Mapping[str, Expected]]:
    """Return what every contact must be, by label, at each of many travels of one stroke from its far end.

    The same as `expected_contacts` after a one-way movement without doubt, by look-up in the zones of the
    stroke; travels in percent. The mappings are shared and MUST NOT be changed.
    """
    zones = zones_of(chart, direction)
    sign = 1.0 if direction == "open" else -1.0
    starts = [sign * zone.from_pct for zone in zones]
    states: list[Mapping[str, Expected]] = [
        {one.label: _of_contact(one, frozenset({zone.tripped[one.rotor]})) for one in chart.contacts}
        for zone in zones
    ]
    at_a_change = set(starts[1:])
    far_end = [Travel(end_of(direction)), Travel(start_of(direction))]
    return [
        expected_contacts(
            chart, Travel(pct), far_end
        )  # which side of a change counts, the rotors decide one by one
        if sign * pct in at_a_change
        else states[max(0, bisect_right(starts, sign * pct) - 1)]
        for pct in travels
    ]


def expected_at_checkpoint(
    chart: ContactChart, rotor_states: Mapping[str, RotorState]
) -> dict[str, Expected]:
    """Return what every contact must be, by label, where the checkpoint names the state of the rotors.

    A rotor that the checkpoint does not name proves nothing there: its contacts are `either`.

    Raises
    ------
    BadDefinition
        The checkpoint names a rotor that the chart does not have, or a state that there is not.

    """
    for rotor, state in rotor_states.items():
        chart.rotor(rotor)
        if state not in TRIPPED:
            raise BadDefinition(f"A rotor is never {state}.", field=f"rotor_states.{rotor}")
    named = {rotor: frozenset({TRIPPED[state]}) for rotor, state in rotor_states.items()}
    return {contact.label: _of_contact(contact, named.get(contact.rotor, BOTH)) for contact in chart.contacts}


def along_at_checkpoint(chart: ContactChart, rotor_states: Mapping[str, RotorState]) -> dict[str, str]:
    """Return for each named rotor that carries contacts the bar that must lie along its fingers."""
    return {
        rotor: other_bar(rest) if TRIPPED[state] else rest
        for rotor, state in rotor_states.items()
        if (rest := chart.along_at_rest.get(rotor))
    }


def arriving(travel: Travel, towards: Direction) -> tuple[Travel, ...]:
    """Return the history of a movement that started at the far end and came here in one direction."""
    start = 0.0 if towards == "open" else 100.0
    return (Travel(start, 0.0, travel.evidence),)


def _of_contact(contact: Contact, tripped: frozenset[bool]) -> Expected:
    if len(tripped) != 1:
        return "either"
    (is_tripped,) = tripped
    return "closed" if is_tripped == (contact.action == "makes") else "open"


def _moved(rotor: Rotor, tripped: bool, travel: Travel) -> set[bool]:  # noqa: FBT001 - the state before the move
    """Return the states possible after one movement that ends at `travel`."""
    least, most = _along_trip_direction(rotor, travel)
    trip = _towards(rotor, rotor.trip_pct)
    reset = _towards(rotor, rotor.reset_pct)
    turns_at = reset if tripped else trip
    return {state for state, can_be in ((True, most >= turns_at), (False, least < turns_at)) if can_be}


def _along_trip_direction(rotor: Rotor, travel: Travel) -> tuple[float, float]:
    """Return least and greatest travel counted along the rotor's own trip direction."""
    ends = (_towards(rotor, travel.lowest), _towards(rotor, travel.highest))
    return min(ends), max(ends)


def _towards(rotor: Rotor, pct: float) -> float:
    """Return a travel as a figure that grows in the rotor's trip direction; the sign alone loses no digit."""
    return pct if rotor.trips_towards == "open" else -pct
