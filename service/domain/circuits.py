"""What the chart's contacts do to motor and lamps: motor paths, lamps, signals as boolean expressions.

Colours are the site's words; none has a meaning of its own here. What a lighted lamp means is stated by the
site as an expression over lamps (`shows`), so that two sites with opposite colours are both served and
neither is assumed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import islice, product

from service.domain.chart import STOPS, Contact, ContactChart
from service.domain.expected import BOTH
from service.domain.expressions import (
    AllOf,
    Always,
    CommandIs,
    CommandName,
    ContactIs,
    Expression,
    TorqueIs,
    World,
    all_leaves,
    contacts_in,
    evaluate,
    refuse_loops,
)
from service.domain.refusals import BadDefinition
from service.domain.travel import Direction

COMMAND_OF: Mapping[Direction, CommandName] = {"closed": "close", "open": "open"}
MOTOR_WORD: Mapping[Direction, str] = {"closed": "closing", "open": "opening"}
DIRECTIONS: tuple[Direction, Direction] = ("closed", "open")
MOST_UNKNOWN = 8
"""How many unknown rotors are tried in all their combinations; with more the answer is "cannot tell"."""
MOST_LEAVES = 2000
"""How many leaves the circuits of one valve may have, each with those of the circuits that it names."""
MOST_ANSWERS = 5000
"""How many answers are kept to save time."""


@dataclass(frozen=True, slots=True)
class Lamp:
    """One lamp: its name, the colour in the site's words, and when it is lit."""

    name: str
    colour: str
    lit_when: Expression


@dataclass(frozen=True)
class Circuits:
    """The circuits of one valve.

    `motor` is per direction the path that keeps the motor running, `shows` per stated condition ("closed",
    "open", or any other word of the site) the expression over lamps that shows it.

    Raises
    ------
    BadDefinition
        A contact, lamp or signal is not there, a circuit depends on itself, or a contact that the chart says
        stops a direction is not in that direction's motor path.

    """

    chart: ContactChart
    motor: Mapping[Direction, Expression]
    lamps: tuple[Lamp, ...] = ()
    signals: Mapping[str, Expression] = field(default_factory=dict)
    shows: Mapping[str, Expression] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for direction in DIRECTIONS:
            if direction not in self.motor:
                raise BadDefinition(
                    f"There is no motor circuit towards {direction}.",
                    field=f"circuits.motor.{MOTOR_WORD[direction]}",
                )
        if len({lamp.name for lamp in self.lamps}) < len(self.lamps):
            raise BadDefinition("Two lamps have one name.", field="circuits.lamps")
        refuse_loops(self.named, "circuits")
        labels = {contact.label for contact in self.chart.contacts}
        for name, expression in self.named.items():
            for label in contacts_in(expression, self.named):
                if label not in labels:
                    raise BadDefinition(f"The chart has no contact {label}.", field=f"circuits.{name}")
        leaves = (leaf for path in self.named.values() for leaf in all_leaves(path, self.named))
        if sum(1 for _ in islice(leaves, MOST_LEAVES + 1)) > MOST_LEAVES:
            raise BadDefinition(f"These circuits have more than {MOST_LEAVES} parts.", field="circuits")
        self._refuse_stops_that_are_not_in_the_path()

    @cached_property
    def named(self) -> Mapping[str, Expression]:
        """Every circuit by its name: "motor closed", "lamp red", "signal NAME", "shows closed"."""
        return {
            **{f"motor {direction}": path for direction, path in self.motor.items()},
            **{f"lamp {lamp.name}": lamp.lit_when for lamp in self.lamps},
            **{f"signal {name}": path for name, path in self.signals.items()},
            **{f"shows {name}": path for name, path in self.shows.items()},
        }

    @cached_property
    def rests_on(self) -> Mapping[str, tuple[Contact, ...]]:
        """The contacts that each named circuit rests on, directly or by other circuits."""
        return {
            name: tuple(self.chart.contact(label) for label in contacts_in(path, self.named))
            for name, path in self.named.items()
        }

    @cached_property
    def answers(self) -> dict[object, bool | None]:
        """What `value_of` found before, since one stroke asks the same again and again."""
        return {}

    def _refuse_stops_that_are_not_in_the_path(self) -> None:
        for contact in self.chart.contacts:
            direction = STOPS.get(contact.circuit)
            if direction and contact.label not in contacts_in(self.motor[direction], self.named):
                raise BadDefinition(
                    f"Contact {contact.label} is said to stop the motor at the {direction} end, but the "
                    "motor circuit "
                    f"towards {direction} does not pass through it.",
                    field=f"circuits.motor.{MOTOR_WORD[direction]}",
                )


def plain_circuits(chart: ContactChart) -> Circuits:
    """Return the circuits that a chart without stated ones implies: command and stop contacts in series.

    The torque switch is in the path of a direction whose end the chart says is seated by torque. There are no
    lamps.
    """
    motor: dict[Direction, Expression] = {}
    for direction in DIRECTIONS:
        stops = tuple(ContactIs(one.label) for one in chart.contacts if STOPS.get(one.circuit) == direction)
        seating = chart.closed_end if direction == "closed" else chart.open_end
        torque = (TorqueIs(direction),) if seating == "torque" else ()
        motor[direction] = AllOf((CommandIs(COMMAND_OF[direction]), *stops, *torque))
    return Circuits(chart, motor)


@dataclass(frozen=True)
class Known:
    """What is known of everything that circuits depend on; what is not stated may be either.

    `rotors` gives per rotor the states that are possible, True being tripped; `torque` per direction whether
    the torque switch has not operated; `command` what is asked of the motor.
    """

    rotors: Mapping[str, frozenset[bool]]
    torque: Mapping[Direction, bool] = field(default_factory=dict)
    command: CommandName | None = None


def value_of(circuits: Circuits, name: str, known: Known) -> bool | None:
    """Return whether the named circuit can carry current, or None where what is known leaves both possible.

    All contacts of one rotor move together, so rotors are tried and not contacts: `contact 9 or not contact
    9` is true whatever the rotor does.
    """
    rotors = sorted({contact.rotor for contact in circuits.rests_on[name]})
    choices = tuple((rotor, known.rotors.get(rotor, BOTH)) for rotor in rotors)
    torque = tuple((way, known.torque.get(way)) for way in DIRECTIONS)
    question = (name, choices, torque, known.command)
    if question not in circuits.answers:
        if len(circuits.answers) >= MOST_ANSWERS:
            circuits.answers.clear()
        circuits.answers[question] = _in_every_world(circuits, name, dict(choices), known)
    return circuits.answers[question]


def _in_every_world(
    circuits: Circuits, name: str, choices: Mapping[str, frozenset[bool]], known: Known
) -> bool | None:
    """Return the value that a circuit has in every world that fits what is known; None where worlds differ."""
    if sum(len(states) > 1 for states in choices.values()) > MOST_UNKNOWN:
        return None
    torque = [[known.torque[way]] if way in known.torque else [True, False] for way in DIRECTIONS]
    commands: list[CommandName] = [known.command] if known.command else ["open", "close", "stop"]
    found: bool | None = None
    for states in product(*choices.values()):
        tripped = dict(zip(choices, states, strict=True))
        contacts = {
            contact.label: is_closed(contact, tripped=tripped[contact.rotor])
            for contact in circuits.rests_on[name]
        }
        for (closing, opening), command in product(product(*torque), commands):
            world = World(contacts, {"closed": closing, "open": opening}, command)
            here = evaluate(circuits.named[name], world, circuits.named)
            if found is not None and here != found:
                return None
            found = here
    return found


def lamps_at(circuits: Circuits, known: Known) -> dict[str, bool | None]:
    """Return for each lamp whether it is lit, None where it cannot be told."""
    return {lamp.name: value_of(circuits, f"lamp {lamp.name}", known) for lamp in circuits.lamps}


def shown_by_lamps(circuits: Circuits, lit: Mapping[str, bool]) -> tuple[str, ...]:
    """Return what the site says that these lamps show, in its order; nothing where no statement fits.

    Raises
    ------
    BadDefinition
        A lamp of the site is not mentioned in `lit`.

    """
    missing = [lamp.name for lamp in circuits.lamps if lamp.name not in lit]
    if missing:
        raise BadDefinition(f"Whether lamp {missing[0]} is lit is not stated.", field=f"lamps.{missing[0]}")
    seen = {f"lamp {name}": is_lit for name, is_lit in lit.items()}
    return tuple(name for name, shown in circuits.shows.items() if _over_lamps(shown, seen))


def _over_lamps(expression: Expression, seen: Mapping[str, bool]) -> bool:
    named: dict[str, Expression] = {name: Always(is_lit) for name, is_lit in seen.items()}
    return evaluate(expression, World({}, {}, "stop"), named)


@dataclass(frozen=True, slots=True)
class Block:
    """Why the motor does not run in a direction: the contacts that hold its path open, None: cannot tell."""

    direction: Direction
    contacts: tuple[str, ...] | None


def blocks_at(circuits: Circuits, rotors: Mapping[str, frozenset[bool]]) -> tuple[Block, ...]:
    """Return the directions in which contacts keep the motor from running, torque not operated."""
    found = []
    for direction in DIRECTIONS:
        known = Known(rotors, {"closed": True, "open": True}, COMMAND_OF[direction])
        runs = value_of(circuits, f"motor {direction}", known)
        if runs is None:
            found.append(Block(direction, None))
        elif not runs:
            found.append(Block(direction, blocking_contacts(circuits, direction, rotors)))
    return tuple(found)


def blocking_contacts(
    circuits: Circuits, direction: Direction, rotors: Mapping[str, frozenset[bool]]
) -> tuple[str, ...]:
    """Return the open contacts that alone keep a motor path open; where none does, all open ones."""
    path = circuits.motor[direction]
    labels = contacts_in(path, circuits.named)
    tripped = {rotor: next(iter(states)) for rotor, states in rotors.items() if len(states) == 1}
    now = {
        label: is_closed(contact, tripped=tripped[contact.rotor])
        for label in labels
        if (contact := circuits.chart.contact(label)).rotor in tripped
    }
    if len(now) < len(labels):
        return tuple(label for label in labels if not now.get(label, True))
    torque: Mapping[Direction, bool] = {"closed": True, "open": True}
    opened = [label for label, closed in now.items() if not closed]
    alone = [
        label
        for label in opened
        if evaluate(path, World({**now, label: True}, torque, COMMAND_OF[direction]), circuits.named)
    ]
    return tuple(alone or opened)


def is_closed(contact: Contact, *, tripped: bool) -> bool:
    """Return whether a contact is closed while its rotor is tripped, or is not."""
    return tripped == (contact.action == "makes")


def surely(tripped: Mapping[str, bool]) -> dict[str, frozenset[bool]]:
    """Return the rotors' states, all of them known, in the form that `Known` takes."""
    return {rotor: frozenset({state}) for rotor, state in tripped.items()}
