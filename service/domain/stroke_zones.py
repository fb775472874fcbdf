"""A stroke cut into zones: between two zones one rotor changes, inside a zone nothing does.

A stroke in a direction begins at the far end, where every rotor that trips towards that end has tripped. On
the way a rotor that trips in the direction of movement trips, one that trips the other way resets.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from service.domain.chart import ContactChart, Rotor
from service.domain.travel import Direction


@dataclass(frozen=True, slots=True)
class RotorChange:
    """A rotor trips or resets during a stroke, at a travel in percent."""

    at_pct: float
    rotor: str
    tripped: bool


@dataclass(frozen=True, slots=True)
class Zone:
    """A piece of a stroke between two travels in percent, as the valve moves, with the rotors' states."""

    from_pct: float
    to_pct: float
    tripped: Mapping[str, bool]

    @property
    def length_pct(self) -> float:
        """The length of the zone in percent of travel."""
        return abs(self.to_pct - self.from_pct)


def start_of(direction: Direction) -> float:
    """Return the travel, in percent, at which a whole stroke in that direction begins."""
    return 100.0 if direction == "closed" else 0.0


def end_of(direction: Direction) -> float:
    """Return the travel, in percent, at which a whole stroke in that direction ends."""
    return 100.0 - start_of(direction)


def tripped_at_start(chart: ContactChart, direction: Direction) -> dict[str, bool]:
    """Return the rotors' states at the far end: tripped are those that trip towards it."""
    return {rotor.id: rotor.trips_towards != direction for rotor in chart.rotors}


def change_ahead(rotor: Rotor, direction: Direction) -> RotorChange:
    """Return the one change that a rotor can make during a stroke in that direction."""
    if rotor.trips_towards == direction:
        return RotorChange(rotor.trip_pct, rotor.id, tripped=True)
    return RotorChange(rotor.reset_pct, rotor.id, tripped=False)


def changes_along(chart: ContactChart, direction: Direction) -> tuple[RotorChange, ...]:
    """Return the changes of every rotor during a whole stroke, in the order in which they happen."""
    changes = [change_ahead(rotor, direction) for rotor in chart.rotors]
    return tuple(sorted(changes, key=lambda change: change.at_pct, reverse=direction == "closed"))


def zones_of(chart: ContactChart, direction: Direction) -> tuple[Zone, ...]:
    """Return the zones of a whole stroke, in the order of movement; a zone may have no length at an end."""
    at, states = start_of(direction), tripped_at_start(chart, direction)
    zones: list[Zone] = []
    for change in changes_along(chart, direction):
        if change.at_pct != at or not zones:
            zones.append(Zone(at, change.at_pct, dict(states)))
            at = change.at_pct
        states[change.rotor] = change.tripped
    zones.append(Zone(at, end_of(direction), dict(states)))
    return tuple(zones)
