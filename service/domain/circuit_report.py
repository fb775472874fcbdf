"""What stops each direction, which lamps are lit along a stroke, how long a bypass lasts, what is dangerous.

Dangerous to set, so such a chart is only recorded as found:

1. An end without any stop: the motor would still run there, against the limit or the torque switch that is
   named.
2. A motor path that is open before the stroke begins: the valve could not leave its end.
3. A bypass that bridges a direction's torque switch at that direction's own seat.
4. A lamp that shows an end before it is reached.
5. An end that its lamps never show; on a torque-seated valve, an indication that trips only after the seat.
"""

from dataclasses import dataclass
from typing import Literal

from service.domain.chart import Seating
from service.domain.chart_dangers import Danger, dangers
from service.domain.circuits import (
    COMMAND_OF,
    DIRECTIONS,
    MOTOR_WORD,
    Circuits,
    Known,
    blocking_contacts,
    lamps_at,
    surely,
    value_of,
)
from service.domain.expressions import TorqueIs, all_leaves
from service.domain.refusals import BadDefinition
from service.domain.stroke_zones import Zone, zones_of
from service.domain.travel import Direction

INDICATION_WITHIN_PCT = 5.0
"""How early the lamps may show a torque-seated end, in percent; common practice: a site confirms it."""

StopKind = Literal["limit", "torque", "nothing"]


@dataclass(frozen=True, slots=True)
class Stop:
    """What ends a stroke: the limit's contacts at a travel in percent, torque at the seat, or nothing."""

    direction: Direction
    kind: StopKind
    contacts: tuple[str, ...] = ()
    at_pct: float | None = None

    @property
    def by(self) -> str:
        """The stop in words."""
        if self.kind == "limit":
            return f"contact {' and '.join(self.contacts)} at {self.at_pct:g} %"
        return "torque switch at the seat" if self.kind == "torque" else "nothing"


@dataclass(frozen=True, slots=True)
class Bypass:
    """Where a direction's torque switch is bridged: travels in percent as the valve moves, drive turns."""

    direction: Direction
    from_pct: float
    to_pct: float
    drive_turns: float | None

    @property
    def length_pct(self) -> float:
        """The length of the bypass in percent of travel."""
        return abs(self.to_pct - self.from_pct)


@dataclass(frozen=True, slots=True)
class LampZone:
    """Which lamps are lit in one zone of a stroke; None where it cannot be told."""

    zone: Zone
    lit: dict[str, bool | None]


def stop_of(circuits: Circuits, direction: Direction) -> Stop:
    """Return what ends a stroke that runs under its own command from the far end."""
    zones = zones_of(circuits.chart, direction)
    for zone in zones:
        if not _runs(circuits, direction, zone):
            contacts = blocking_contacts(circuits, direction, surely(zone.tripped))
            return Stop(direction, "limit", contacts, zone.from_pct)
    if not _runs(circuits, direction, zones[-1], torque_closed=False):
        return Stop(direction, "torque", (), zones[-1].to_pct)
    return Stop(direction, "nothing")


def bypasses(circuits: Circuits, drive_turns: float | None = None) -> tuple[Bypass, ...]:
    """Return the stretches on which a direction's own torque switch is in its circuit but bridged.

    `drive_turns` are the turns of the drive stop to stop, where they are known.
    """
    found: list[Bypass] = []
    for direction in DIRECTIONS:
        if not has_torque_switch(circuits, direction):
            continue
        for first, last in _stretches(circuits, direction):
            length = abs(last.to_pct - first.from_pct)
            turns = None if drive_turns is None else length / 100.0 * drive_turns
            found.append(Bypass(direction, first.from_pct, last.to_pct, turns))
    return tuple(found)


def has_torque_switch(circuits: Circuits, direction: Direction) -> bool:
    """Return whether a direction's motor path depends on its own torque switch at all."""
    return TorqueIs(direction) in set(all_leaves(circuits.motor[direction], circuits.named))


def lamps_along(circuits: Circuits, direction: Direction) -> tuple[LampZone, ...]:
    """Return which lamps are lit in each zone of a stroke under its own command, torque not operated."""
    return tuple(
        LampZone(zone, lamps_at(circuits, _known(direction, zone)))
        for zone in zones_of(circuits.chart, direction)
    )


def circuit_dangers(
    circuits: Circuits, indication_within_pct: float = INDICATION_WITHIN_PCT
) -> tuple[Danger, ...]:
    """Return every danger of the circuits, in the order of this module's list, closed end before open end."""
    found: list[Danger] = []
    for direction in DIRECTIONS:
        zones = zones_of(circuits.chart, direction)
        found += _unstopped(circuits, direction, zones)
        found += _bridged_at_its_seat(circuits, direction, zones)
        found += _lamps_too_early_or_late(circuits, direction, zones, indication_within_pct)
    return tuple(found)


def every_danger(circuits: Circuits, indication_within_pct: float | None = None) -> tuple[Danger, ...]:
    """Return every danger of a chart and its circuits; the site's rule for early lamps where it states one."""
    within = INDICATION_WITHIN_PCT if indication_within_pct is None else indication_within_pct
    return (*dangers(circuits.chart), *circuit_dangers(circuits, within))


def require_settable_circuits(circuits: Circuits, indication_within_pct: float | None = None) -> Circuits:
    """Return the circuits if nothing about them is dangerous.

    Raises
    ------
    BadDefinition
        With the first danger; the chart may still be recorded as found.

    """
    within = INDICATION_WITHIN_PCT if indication_within_pct is None else indication_within_pct
    for danger in circuit_dangers(circuits, within):
        raise BadDefinition(danger.reason, field=danger.field, hint="Such a chart is only recorded as found.")
    return circuits


def _unstopped(circuits: Circuits, direction: Direction, zones: tuple[Zone, ...]) -> list[Danger]:
    """(1) and (2): a stroke can begin, and something named ends it."""
    where = _motor_field(direction)
    if not _runs(circuits, direction, zones[0]):
        blocked = (
            " and ".join(blocking_contacts(circuits, direction, surely(zones[0].tripped))) or "the circuit"
        )
        return [
            Danger(where, f"The motor could not leave the {_other(direction)} end: {blocked} is open there.")
        ]
    stop, seating = stop_of(circuits, direction), _seating(circuits, direction)
    if stop.kind == "nothing":
        return [Danger(where, f"Nothing stops the motor at the {direction} end.")]
    if seating == "torque" and stop.kind == "limit":
        return [
            Danger(
                where, f"The {direction} end is to be seated by torque, but {stop.by} stops the motor before."
            )
        ]
    if seating == "limit" and stop.kind == "torque":
        return [
            Danger(
                where, f"The {direction} end is to be stopped by the limit, but only torque stops it there."
            )
        ]
    return []


def _bridged_at_its_seat(circuits: Circuits, direction: Direction, zones: tuple[Zone, ...]) -> list[Danger]:
    """(3): in the last zone in which the motor runs, its own torque switch can stop it."""
    running = [zone for zone in zones if _runs(circuits, direction, zone)]
    if not running or not has_torque_switch(circuits, direction):
        return []
    last = running[-1]
    if not _runs(circuits, direction, last, torque_closed=False):
        return []
    reason = (
        f"The torque switch towards {direction} is bridged from {last.from_pct:g} to {last.to_pct:g} %, at "
        "that "
        "direction's own seat: torque could not stop the motor there."
    )
    return [Danger(_motor_field(direction), reason)]


def _lamps_too_early_or_late(
    circuits: Circuits, direction: Direction, zones: tuple[Zone, ...], within_pct: float
) -> list[Danger]:
    """(4) and (5): the lamps show an end once it is reached and not before."""
    if direction not in circuits.shows:
        return []
    end = 100.0 if direction == "open" else 0.0
    stop, where = stop_of(circuits, direction), f"circuits.shows.{direction}"
    by_limit = stop.kind == "limit" and stop.at_pct is not None
    allowed = abs(end - stop.at_pct) if by_limit and stop.at_pct is not None else within_pct
    shown = [zone for zone in zones if value_of(circuits, f"shows {direction}", _known(direction, zone))]
    early = next((zone for zone in shown if abs(end - zone.from_pct) > allowed), None)
    if early:
        goal = stop.by if by_limit else f"the last {allowed:g} %"
        return [
            Danger(where, f"The lamps show the {direction} end from {early.from_pct:g} % on, before {goal}.")
        ]
    if zones[-1] in shown and zones[-1].length_pct > 0:
        return []
    late = "only after the seat" if _seating(circuits, direction) == "torque" else "at no travel"
    return [
        Danger(where, f"The lamps show the {direction} end {late}: the indication comes too late or never.")
    ]


def _stretches(circuits: Circuits, direction: Direction) -> list[tuple[Zone, Zone]]:
    """Return first and last zone of each stretch on which the motor runs with its torque switch operated."""
    stretches: list[tuple[Zone, Zone]] = []
    for zone in zones_of(circuits.chart, direction):
        if zone.length_pct == 0 or not _runs(circuits, direction, zone, torque_closed=False):
            continue
        if stretches and stretches[-1][1].to_pct == zone.from_pct:
            stretches[-1] = (stretches[-1][0], zone)
        else:
            stretches.append((zone, zone))
    return stretches


def _runs(circuits: Circuits, direction: Direction, zone: Zone, *, torque_closed: bool = True) -> bool:
    return (
        value_of(circuits, f"motor {direction}", _known(direction, zone, torque_closed=torque_closed)) is True
    )


def _known(direction: Direction, zone: Zone, *, torque_closed: bool = True) -> Known:
    torque: dict[Direction, bool] = {"closed": True, "open": True, direction: torque_closed}
    return Known(surely(zone.tripped), torque, COMMAND_OF[direction])


def _seating(circuits: Circuits, direction: Direction) -> Seating:
    return circuits.chart.closed_end if direction == "closed" else circuits.chart.open_end


def _other(direction: Direction) -> Direction:
    return "open" if direction == "closed" else "closed"


def _motor_field(direction: Direction) -> str:
    return f"circuits.motor.{MOTOR_WORD[direction]}"
