"""What a statement is about, what it says of it, and when one statement fits, contradicts or restricts.

A statement is an intent with slots, heard or typed (`{"intent": "gear", "slots": {"item": "setting_gear", "state":
"engaged"}}`). Some slots name its subject (which item, which pair of conductors, which rotor), the others say something
of it. Two statements on one subject that say different things contradict each other; a negated statement contradicts
whatever stands on its subject, since doubt restricts.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

TAKEN_AS = {"just_closed": "closed", "just_open": "open"}
SUBJECT_SLOTS = (
    "item",
    "of",
    "quantity",
    "from",
    "to",
    "contact",
    "when",
    "rotor",
    "travel",
    "source",
    "end",
    "count",
)
OWN_TAG = "$tag"
"""Stands in a procedure file for the tag of the valve at hand."""
TOGETHER = (frozenset({"clean", "undamaged", "unpainted"}), frozenset({"fitted", "torqued"}))
"""States that may be true of one thing at once, so that saying one does not deny the other."""
MARKS = ("negated", "corrected")
LAMP_COLOURS = ("red", "green", "yellow", "white", "blue")

Subject = tuple[tuple[str, Any], ...]


@dataclass(frozen=True)
class Statement:
    """What was said or typed: an intent and its slots; `negated` for "not", `corrected` for a self-correction."""

    intent: str
    slots: Mapping[str, Any]
    negated: bool = False
    corrected: bool = False

    @property
    def action(self) -> str | None:
        """The spoken control, such as stop_work or confirm; None for any other statement."""
        return str(self.slots.get("action")) if self.intent == "control" else None


@dataclass(frozen=True)
class Pattern:
    """What a condition wants said: the intent, and the slots that must be equal."""

    intent: str
    slots: Mapping[str, Any]


def statement_of(intent: str, slots: Mapping[str, Any]) -> Statement:
    """Return the statement of an intent and slots as heard; the pair of a measurement is put in one order.

    Examples
    --------
    >>> statement_of("gear", {"negated": True, "item": "setting_gear", "state": "engaged"}).negated
    True

    """
    kept = {key: value for key, value in slots.items() if key not in MARKS}
    if "from" in kept and "to" in kept and str(kept["from"]) > str(kept["to"]):
        kept["from"], kept["to"] = kept["to"], kept["from"]
    if intent == "tag" and isinstance(kept.get("value"), str) and kept["value"] != OWN_TAG:
        kept["value"] = plain_tag(kept["value"])
    if "rotor" in kept:
        kept["rotor"] = rotor_number(kept["rotor"])
    return Statement(intent, MappingProxyType(kept), bool(slots.get("negated")), bool(slots.get("corrected")))


def plain_tag(text: str) -> str:
    """Return a tag or number as letters and digits only, in capitals: "RW-204" and "rw 204" are RW204."""
    return "".join(sign for sign in text.upper() if sign.isalnum())


def rotor_number(rotor: Any) -> Any:  # noqa: ANN401 - a slot is any JSON value
    """Return the number of a rotor that is named by letter and number: "R2", "2" and 2 are one rotor."""
    digits = str(rotor).removeprefix("R").removeprefix("r")
    return int(digits) if digits.isdigit() else rotor


def pattern_of(intent: str, slots: Mapping[str, Any]) -> Pattern:
    """Return the pattern of an intent and slots, its pair of conductors in the same order as in statements."""
    said = statement_of(intent, slots)
    return Pattern(said.intent, said.slots)


def contact_states(statement: Statement) -> dict[str, str]:
    """Return what a contact statement says, contact by contact; empty for other statements.

    Examples
    --------
    >>> contact_states(statement_of("contact", {"closed": ["17"], "open": ["19", "20"]}))
    {'17': 'closed', '19': 'open', '20': 'open'}

    """
    if statement.intent != "contact":
        return {}
    state = str(statement.slots.get("state"))
    said = {label: TAKEN_AS.get(state, state) for label in _labels(statement, "contacts")}
    for state in ("closed", "open"):
        said.update(dict.fromkeys(_labels(statement, state), state))
    return said


def _labels(statement: Statement, slot: str) -> tuple[str, ...]:
    labels = statement.slots.get(slot)
    return tuple(str(label) for label in labels) if isinstance(labels, list | tuple) else ()


def subject(intent: str, slots: Mapping[str, Any]) -> Subject:
    """Return what a statement is about: its intent and the slots that name something."""
    if intent == "travel":
        return (("intent", intent), ("about", _aspect_of_travel(slots)))
    named = [(key, _plain(slots[key])) for key in SUBJECT_SLOTS if key in slots]
    return (("intent", intent), *named)


def _aspect_of_travel(slots: Mapping[str, Any]) -> str:
    position = str(slots.get("position", ""))
    if position.startswith("moving_"):
        return "direction"
    return "back_off" if position == "backed_off" else "place"


def fits(pattern: Pattern, statement: Statement) -> bool:
    """Return whether a statement says what the pattern wants, and of the same thing; a negated one never does.

    Examples
    --------
    A lock that is off is not a supply that is off.

    >>> wanted = pattern_of("isolation", {"source": "motor_supply", "state": "off"})
    >>> fits(wanted, statement_of("isolation", {"source": "motor_supply", "item": "lock", "state": "off"}))
    False

    """
    if statement.negated or not same_subject(pattern, statement):
        return False
    return all(
        key in statement.slots and _plain(statement.slots[key]) == _plain(value)
        for key, value in pattern.slots.items()
    )


def same_subject(pattern: Pattern, statement: Statement) -> bool:
    """Return whether a statement speaks of what the pattern speaks of; lamps by colour, the others by subject."""
    if pattern.intent != statement.intent:
        return False
    if pattern.intent == "lamp" and pattern.slots:
        return any(colour in statement.slots for colour in LAMP_COLOURS if colour in pattern.slots)
    if pattern.intent == "lamp":
        return True
    return subject(pattern.intent, pattern.slots) == subject(statement.intent, statement.slots)


def contradicts(pattern: Pattern, statement: Statement) -> bool:
    """Return whether a statement speaks of the pattern's subject without saying what it wants."""
    return same_subject(pattern, statement) and not fits(pattern, statement)


def same(one: Any, other: Any) -> bool:  # noqa: ANN401 - slots are any JSON values
    """Return whether two slot values are the same, whole and decimal numbers alike."""
    return bool(_plain(one) == _plain(other))


def may_both_be(one: Any, other: Any) -> bool:  # noqa: ANN401 - slots are any JSON values
    """Return whether two slot values say the same, or can be true together."""
    if same(one, other):
        return True
    return any(str(one) in states and str(other) in states for states in TOGETHER)


def _plain(value: Any) -> Any:  # noqa: ANN401 - a slot is any JSON value
    if isinstance(value, (list, tuple)):
        return tuple(_plain(part) for part in value)
    if isinstance(value, Mapping):
        return tuple((str(key), _plain(part)) for key, part in sorted(value.items(), key=str))
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, (int, float)):
        return float(value)
    return value
