"""A stroke played through before it happens: contacts, lamps, stop, coast, and what is left to the hard stop.

An event simulation with stated inputs. The standard deviation of each time follows from those of the inputs:
each input is moved up and down by its own, the stroke played again, and half the differences are added in
squares (inputs taken as independent, first order).

Lamp contacts and motor contacts are separate: a dark lamp alone proves no stop.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Literal

from service.domain.chart import Rotor
from service.domain.circuits import (
    COMMAND_OF,
    Circuits,
    Known,
    blocking_contacts,
    is_closed,
    lamps_at,
    surely,
    value_of,
)
from service.domain.expected import possibly_tripped
from service.domain.figures import within
from service.domain.motion import Motion, motion_of
from service.domain.motor import Measured, Motor
from service.domain.refusals import BadDefinition
from service.domain.stroke_zones import RotorChange, change_ahead, end_of, start_of
from service.domain.travel import Direction, Travel
from service.domain.travel_scale import TravelScale

EventKind = Literal["command", "contact", "lamp", "circuit_opens", "drop_out", "end", "standstill", "blocked"]
StoppedBy = Literal["limit", "torque", "nothing", "does not start"]
SHORTEST_S, LONGEST_S, LONGEST_COAST_S = 0.1, 86400.0, 3600.0
"""Whole travel and coast in seconds beyond which a stated figure must be wrong."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happens: time and its standard deviation in seconds, travel in percent, and what."""

    t_s: float
    travel_pct: float
    kind: EventKind
    what: str
    sigma_s: float = 0.0


@dataclass(frozen=True)
class Stroke:
    """What is to be rehearsed.

    `history` holds turning points before the start; without it the valve came from the far end in the same
    direction. `trip_sigma_pct` is how closely rotors repeat their trip point, in percent of travel.
    """

    circuits: Circuits
    scale: TravelScale
    motor: Motor
    direction: Direction
    start_pct: float
    history: tuple[Travel, ...] = ()
    trip_sigma_pct: float = 0.0
    trip_offsets_pct: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        within(
            self.start_pct,
            0.0,
            100.0,
            "stroke.from_pct",
            "The travel from which the stroke starts, in percent,",
        )
        within(
            self.trip_sigma_pct, 0.0, 50.0, "stroke.trip_sigma_pct", "How closely rotors repeat, in percent,"
        )


@dataclass(frozen=True)
class Rehearsal:
    """The stroke as predicted.

    `left_pct` is the distance in percent from standstill to the hard stop, `overrun_pct` the coast left when
    the hard stop was met (zero where it was not), `coast_pct` what was moved after the motor's circuit
    opened.
    """

    events: tuple[Event, ...]
    stopped_by: StoppedBy
    by_contacts: tuple[str, ...]
    left_pct: float | None
    left_sigma_pct: float
    coast_pct: float | None
    overrun_pct: float = 0.0

    def time_of(self, kind: EventKind) -> Event | None:
        """Return the first event of a kind, None where it does not happen."""
        return next((event for event in self.events if event.kind == kind), None)

    @property
    def margin_used(self) -> float | None:
        """The share of the way from trip to hard stop that the coast uses; None without a limit stop."""
        if self.coast_pct is None or self.left_pct is None or self.stopped_by != "limit":
            return None
        whole = self.coast_pct + self.left_pct
        return (self.coast_pct + self.overrun_pct) / whole if whole > 0 else math.inf


def rehearse(stroke: Stroke) -> Rehearsal:
    """Return the predicted stroke with the uncertainty of every time and of the distance left.

    Raises
    ------
    BadDefinition
        The history leaves open whether a rotor is tripped at the start, or the scale lacks the motor's ratio.

    """
    _refuse_absurd(motion_of(stroke.motor, stroke.scale))
    central = play(stroke)
    squares: dict[tuple[EventKind, str], float] = {}
    left_square = 0.0
    for up, down in _moved_inputs(stroke):
        high, low = play(up), play(down)
        earlier = {(event.kind, event.what): event.t_s for event in low.events}
        for event in high.events:
            key = (event.kind, event.what)
            if key in earlier:
                squares[key] = squares.get(key, 0.0) + ((event.t_s - earlier[key]) / 2.0) ** 2
        if high.left_pct is not None and low.left_pct is not None:
            left_square += ((high.left_pct - low.left_pct) / 2.0) ** 2
    events = tuple(
        replace(event, sigma_s=math.sqrt(squares.get((event.kind, event.what), 0.0)))
        for event in central.events
    )
    return replace(central, events=events, left_sigma_pct=math.sqrt(left_square))


def _refuse_absurd(motion: Motion) -> None:
    """Refuse a drive that takes no time, more than a day, or an hour to stand still: a figure is wrong."""
    whole_s = 100.0 / motion.speed
    if not SHORTEST_S <= whole_s <= LONGEST_S:
        raise BadDefinition(
            f"The whole travel would take {whole_s:.3g} s; the motor's speed, its turns for one drive turn or "
            "the drive turns cannot be right.",
            field="scale.motor",
        )
    coast_s = motion.drop_out_s + motion.speed / motion.deceleration
    if coast_s > LONGEST_COAST_S:
        raise BadDefinition(
            f"The motor would run on for {coast_s:.3g} s after its circuit has opened.",
            field="motor.deceleration_rpm_s",
        )


def play(stroke: Stroke) -> Rehearsal:
    """Return the predicted stroke without uncertainty: every input at its stated value."""
    return _Play(stroke).run()


def _moved_inputs(stroke: Stroke) -> list[tuple[Stroke, Stroke]]:
    """Return for each uncertain input the stroke with it moved up and down by its standard deviation."""
    moved = []
    for name in ("speed_rpm", "drop_out_s", "deceleration_rpm_s", "start_s"):
        figure: Measured = getattr(stroke.motor, name)
        if figure.sigma:
            up = replace(stroke.motor, **{name: replace(figure, value=figure.value + figure.sigma)})
            down = replace(
                stroke.motor, **{name: replace(figure, value=max(figure.value - figure.sigma, 1e-9))}
            )
            moved.append((replace(stroke, motor=up), replace(stroke, motor=down)))
    for rotor in stroke.circuits.chart.rotors if stroke.trip_sigma_pct else ():
        sides = [{**stroke.trip_offsets_pct, rotor.id: way * stroke.trip_sigma_pct} for way in (1.0, -1.0)]
        moved.append((replace(stroke, trip_offsets_pct=sides[0]), replace(stroke, trip_offsets_pct=sides[1])))
    return moved


class _Play:
    """One run of the simulation: it walks the rotors' changes in order and keeps what the circuits say."""

    def __init__(self, stroke: Stroke) -> None:
        self.stroke = stroke
        self.chart = stroke.circuits.chart
        self.motion: Motion = motion_of(stroke.motor, stroke.scale)
        self.tripped = {rotor.id: self._at_start(rotor) for rotor in self.chart.rotors}
        self.torque: dict[Direction, bool] = {"closed": True, "open": True}
        self.events: list[Event] = []
        self.stopped_by: StoppedBy = "nothing"
        self.by_contacts: tuple[str, ...] = ()
        self.lamps = lamps_at(stroke.circuits, self._known())

    def run(self) -> Rehearsal:
        """Walk from the command to standstill."""
        self._note(0.0, 0.0, "command", f"command {COMMAND_OF[self.stroke.direction]}")
        if not self._runs():
            self.stopped_by = "does not start"
            self.by_contacts = self._blocking()
            self._note(0.0, 0.0, "blocked", f"the motor does not start: {_named(self.by_contacts)} open")
            return self._result(None, 0.0)
        whole = abs(end_of(self.stroke.direction) - self.stroke.start_pct)
        for at_pct, changes in groupby(self._changes_ahead(), key=lambda change: change.at_pct):
            moved = abs(at_pct - self.stroke.start_pct)
            if moved > min(self.motion.stands_at, whole):
                break
            self._snap(list(changes), self.motion.time_at(moved), moved)
        return self._come_to_rest(whole)

    def _changes_ahead(self) -> list[RotorChange]:
        """Return the changes still to come, as the valve moves, each rotor's trip moved by its offset."""
        towards_open = self.stroke.direction == "open"
        ahead = []
        for rotor in self.chart.rotors:
            change = change_ahead(rotor, self.stroke.direction)
            at = min(100.0, max(0.0, change.at_pct + self.stroke.trip_offsets_pct.get(rotor.id, 0.0)))
            behind = at < self.stroke.start_pct if towards_open else at > self.stroke.start_pct
            if change.tripped != self.tripped[rotor.id] and not behind:
                ahead.append(RotorChange(at, rotor.id, change.tripped))
        return sorted(ahead, key=lambda change: change.at_pct, reverse=not towards_open)

    def _snap(self, changes: list[RotorChange], time_s: float, moved: float) -> None:
        """Let rotors change that do so at one travel; note contacts, lamps and what opens."""
        for change in changes:
            self.tripped[change.rotor] = change.tripped
            for contact in self.chart.contacts_of(change.rotor):
                state = "closes" if is_closed(contact, tripped=change.tripped) else "opens"
                self._note(time_s, moved, "contact", f"contact {contact.label} {state}")
        self._note_lamps(time_s, moved)
        if self.motion.open_s is None and not self._runs():
            self.by_contacts, self.stopped_by = self._blocking(), "limit"
            self._open_circuit(time_s, moved, f"motor circuit opens: {_named(self.by_contacts)}")

    def _come_to_rest(self, whole: float) -> Rehearsal:
        """Play what follows the last rotor change: standstill on the way, or the end of travel."""
        stands_at = self.motion.stands_at
        if stands_at <= whole:
            self._note_drop_out(whole)
            self._note(self.motion.stands_at_s, stands_at, "standstill", "the valve stands still")
            return self._result(stands_at, 0.0)
        reached_s = self.motion.time_at(whole)
        self._note_drop_out(whole)
        if self.motion.open_s is not None:
            self._note(reached_s, whole, "end", "the valve meets the hard stop while coasting")
            return self._result(whole, stands_at - whole)
        self._note(reached_s, whole, "end", f"the valve reaches its {self.stroke.direction} end")
        self.torque[self.stroke.direction] = False
        self._note_lamps(reached_s, whole)
        if self._runs():
            self._note(
                reached_s, whole, "standstill", "nothing stops the motor: it stalls against the hard stop"
            )
            return self._result(whole, 0.0)
        self.stopped_by = "torque"
        self._open_circuit(reached_s, whole, "motor circuit opens: torque switch")
        self._note(reached_s, whole, "standstill", "the valve stands on its seat")
        self._note_drop_out(whole)
        return self._result(whole, 0.0)

    def _open_circuit(self, time_s: float, moved: float, what: str) -> None:
        self.motion = replace(self.motion, open_s=time_s)
        self._note(time_s, moved, "circuit_opens", what)

    def _note_drop_out(self, whole: float) -> None:
        if self.motion.open_s is not None:
            at = self.motion.open_s + self.motion.drop_out_s
            self._note(at, min(whole, self.motion.moved_at(at)), "drop_out", "the motor is without current")

    def _note_lamps(self, time_s: float, moved: float) -> None:
        now = lamps_at(self.stroke.circuits, self._known())
        for name, lit in now.items():
            if lit != self.lamps[name]:
                self._note(time_s, moved, "lamp", f"lamp {name} {'lights' if lit else 'goes dark'}")
        self.lamps = now

    def _note(self, time_s: float, moved: float, kind: EventKind, what: str) -> None:
        way = 1.0 if self.stroke.direction == "open" else -1.0
        travel = min(100.0, max(0.0, self.stroke.start_pct + way * moved))
        self.events.append(Event(time_s, travel, kind, what))

    def _result(self, moved: float | None, overrun: float) -> Rehearsal:
        self.events.sort(key=lambda event: event.t_s)
        whole = abs(end_of(self.stroke.direction) - self.stroke.start_pct)
        opened = self.motion.open_s
        coast = None if opened is None or moved is None else moved - self.motion.moved_at(opened)
        left = None if moved is None else whole - moved
        return Rehearsal(tuple(self.events), self.stopped_by, self.by_contacts, left, 0.0, coast, overrun)

    def _at_start(self, rotor: Rotor) -> bool:
        came = self.stroke.history or (Travel(start_of(self.stroke.direction)),)
        if not self.stroke.history:
            came = (Travel(end_of(self.stroke.direction)), *came)
        states = possibly_tripped(rotor, Travel(self.stroke.start_pct), came)
        if len(states) > 1:
            raise BadDefinition(
                f"Whether rotor {rotor.id} is tripped at {self.stroke.start_pct:g} % depends on how the "
                "valve came "
                "there; state the history.",
                field="stroke.history",
            )
        return next(iter(states))

    def _runs(self) -> bool:
        return value_of(self.stroke.circuits, f"motor {self.stroke.direction}", self._known()) is True

    def _blocking(self) -> tuple[str, ...]:
        return blocking_contacts(self.stroke.circuits, self.stroke.direction, surely(self.tripped))

    def _known(self) -> Known:
        return Known(surely(self.tripped), dict(self.torque), COMMAND_OF[self.stroke.direction])


def _named(labels: tuple[str, ...]) -> str:
    return f"contact {' and '.join(labels)}" if labels else "the circuit"
