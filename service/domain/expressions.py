"""A circuit as a boolean expression over contacts, torque switches, the command, lamps and other circuits.

The tree is plain values; text becomes a tree outside the domain. True means that current can flow: a contact
while it is closed, a torque switch while it has not operated, a command while it is given.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, TypeVar

from service.domain.refusals import BadDefinition
from service.domain.travel import Direction

T = TypeVar("T")
CommandName = Literal["open", "close", "stop"]


@dataclass(frozen=True, slots=True)
class ContactIs:
    """True while the contact of that label is closed."""

    label: str


@dataclass(frozen=True, slots=True)
class TorqueIs:
    """True while the torque switch of that direction has not operated."""

    direction: Direction


@dataclass(frozen=True, slots=True)
class CommandIs:
    """True while that command is given."""

    command: CommandName


@dataclass(frozen=True, slots=True)
class CircuitIs:
    """True while another named circuit is true; lamps are named "lamp red", signals "signal NAME"."""

    name: str


@dataclass(frozen=True, slots=True)
class Always:
    """True or false whatever happens."""

    value: bool


@dataclass(frozen=True, slots=True)
class Not:
    """True while the inner expression is false."""

    inner: "Expression"


@dataclass(frozen=True, slots=True)
class AllOf:
    """True while every part is true: contacts in series."""

    parts: tuple["Expression", ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    """True while one part is true: contacts in parallel."""

    parts: tuple["Expression", ...]


Expression = ContactIs | TorqueIs | CommandIs | CircuitIs | Always | Not | AllOf | AnyOf
DEEPEST = 200
"""How deep circuits may nest, the circuits that they name included; real ones stay under ten."""


@dataclass(frozen=True, slots=True)
class World:
    """One complete state of everything that an expression can speak of."""

    contacts: Mapping[str, bool]
    torque: Mapping[Direction, bool]
    command: CommandName


def evaluate(expression: Expression, world: World, named: Mapping[str, Expression]) -> bool:
    """Return whether current can flow in one state of everything; `named` holds the other circuits.

    Each of the other circuits is evaluated once, however often it is named.

    Raises
    ------
    BadDefinition
        The expression speaks of a contact or circuit that is not there.

    """
    return _evaluate(expression, world, named, {})


def _evaluate(
    expression: Expression, world: World, named: Mapping[str, Expression], known: dict[str, bool]
) -> bool:
    match expression:
        case ContactIs(label):
            return _found(world.contacts, label, "contact")
        case TorqueIs(direction):
            return world.torque[direction]
        case CommandIs(command):
            return world.command == command
        case CircuitIs(name):
            if name not in known:
                known[name] = _evaluate(_found(named, name, "circuit"), world, named, known)
            return known[name]
        case Always(value):
            return value
        case Not(inner):
            return not _evaluate(inner, world, named, known)
        case AllOf(parts):
            return all(_evaluate(part, world, named, known) for part in parts)
        case AnyOf(parts):
            return any(_evaluate(part, world, named, known) for part in parts)


def leaves(expression: Expression) -> Iterator[ContactIs | TorqueIs | CommandIs | CircuitIs | Always]:
    """Return every leaf of an expression, from left to right, other circuits not entered."""
    match expression:
        case Not(inner):
            yield from leaves(inner)
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from leaves(part)
        case leaf:
            yield leaf


def all_leaves(
    expression: Expression, named: Mapping[str, Expression]
) -> Iterator[ContactIs | TorqueIs | CommandIs | Always]:
    """Return every leaf of an expression, those of the circuits that it names included, each circuit once."""
    yield from _all_leaves(expression, named, set())


def _all_leaves(
    expression: Expression, named: Mapping[str, Expression], entered: set[str]
) -> Iterator[ContactIs | TorqueIs | CommandIs | Always]:
    for leaf in leaves(expression):
        if not isinstance(leaf, CircuitIs):
            yield leaf
        elif leaf.name not in entered:
            entered.add(leaf.name)
            yield from _all_leaves(_found(named, leaf.name, "circuit"), named, entered)


def contacts_in(expression: Expression, named: Mapping[str, Expression]) -> tuple[str, ...]:
    """Return the labels that an expression rests on, each once, in the order in which they occur."""
    found = (leaf.label for leaf in all_leaves(expression, named) if isinstance(leaf, ContactIs))
    return tuple(dict.fromkeys(found))


def refuse_loops(named: Mapping[str, Expression], field: str) -> None:
    """Refuse circuits that depend on themselves, that nest beyond reason, and circuits that nobody defines.

    Raises
    ------
    BadDefinition
        With the way round the loop, the depth, or the name that is not there.

    """
    depths: dict[str, int] = {}
    for start in named:
        _walk(start, (), named, depths, field)


def _walk(
    name: str, above: tuple[str, ...], named: Mapping[str, Expression], depths: dict[str, int], field: str
) -> int:
    """Return how deep a circuit nests, those that it names included."""
    if name in depths:
        return depths[name]
    if name in above:
        way = " -> ".join((*above[above.index(name) :], name))
        raise BadDefinition(f"A circuit depends on itself: {way}.", field=f"{field}.{name}")
    below = 0
    for leaf in leaves(named[name]):
        if isinstance(leaf, CircuitIs):
            if leaf.name not in named:
                raise BadDefinition(f"There is no circuit {leaf.name}.", field=f"{field}.{name}")
            below = max(below, _walk(leaf.name, (*above, name), named, depths, field))
    depths[name] = below + _depth(named[name])
    if depths[name] > DEEPEST:
        raise BadDefinition(f"Circuits nest more than {DEEPEST} times here.", field=f"{field}.{name}")
    return depths[name]


def _depth(expression: Expression) -> int:
    match expression:
        case Not(inner):
            return 1 + _depth(inner)
        case AllOf(parts) | AnyOf(parts):
            return 1 + max(map(_depth, parts), default=0)
        case _:
            return 1


def _found(where: Mapping[str, T], name: str, what: str) -> T:
    if name not in where:
        raise BadDefinition(f"There is no {what} {name}.", field="circuits")
    return where[name]
