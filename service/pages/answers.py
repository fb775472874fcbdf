"""Which answer a step wants next, as a form or a button: an intent with slots, like any item.

The answer is never pre-selected and its order is that of the procedure and the chart, whatever the chart
expects.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from service.domain.chart import ContactChart
from service.domain.procedure import Condition, Limits
from service.pages.rendering import first_upper

Kind = Literal["say", "choice", "text", "date", "number", "turns", "contacts", "wait"]
JUDGES = ("findings", "record")

LAMPS = (
    ("red lit, green dark", {"red": "on", "green": "off"}),
    ("red dark, green lit", {"red": "off", "green": "on"}),
    ("both lit", {"red": "on", "green": "on"}),
    ("both dark", {"red": "off", "green": "off"}),
)
SENSES = (("clockwise", {"shafts": "clockwise"}), ("counter-clockwise", {"shafts": "counter_clockwise"}))
OF_WHEEL = (("clockwise", {"sense": "clockwise"}), ("counter-clockwise", {"sense": "counter_clockwise"}))
SELECTOR = (("remote", {"state": "remote"}), ("local", {"state": "local"}), ("off", {"state": "off"}))
"""What may be answered where the procedure leaves open what is said; always in this order."""


@dataclass(frozen=True)
class Question:
    """One thing to answer now. `statement` is what the answer sends, `denial` what "it is not so" sends."""

    kind: Kind
    asks: str
    statement: Mapping[str, Any] = field(default_factory=dict)
    denial: Mapping[str, Any] = field(default_factory=dict)
    field: str = ""
    unit: str = ""
    range: str = ""
    expires: bool = False
    tally: Any = None
    rotor: str = ""
    labels: Sequence[str] = ()
    choices: Sequence[tuple[str, Mapping[str, Any]]] = ()
    again: Sequence["Question"] = ()
    waits: str = ""
    because: str = ""
    missed: str = ""

    def more(self, turns: int) -> dict[str, Any]:
        """Return the statement that so many more turns were counted."""
        return {**self.statement, "slots": {**self.statement["slots"], "more": turns}}


def question_on(need: Condition, tally: Any = None) -> Question:  # noqa: ANN401 - any number
    """Return the question that a statement or value of a step puts."""
    pattern = need.pattern
    slots: dict[str, Any] = dict(pattern.slots) if pattern else {}
    intent = pattern.intent if pattern else ""
    asks = first_upper(need.says) + "."
    if need.kind == "value":
        kind: Kind = "turns" if intent == "turns" else "number"
        return Question(
            kind,
            asks,
            {"intent": intent, "slots": slots, "unit": _unit(need.limits), "slot": _slot(need.limits)},
            field=first_upper(need.says),
            unit=_unit_in_words(need.limits),
            range=range_in_words(need.limits),
            expires=bool(need.limits and need.limits.expires),
            tally=tally,
        )
    if intent == "tag":
        # The tag that is wanted must be read on the plate, so the page never fills it in.
        free = {key: value for key, value in slots.items() if key != "value"}
        return Question("text", asks, {"intent": intent, "slots": free}, field="As it is written there")
    if need.limits is not None and need.limits.expires:
        return Question("date", asks, {"intent": intent, "slots": slots}, field="Holds until", expires=True)
    choices = tuple(
        (word, {"intent": intent, "slots": {**slots, **more}}) for word, more in _left_open(intent, slots)
    )
    if choices:
        return Question("choice", asks, choices=choices)
    said = {"intent": intent, "slots": slots}
    return Question("say", asks, said, {"intent": intent, "slots": {**slots, "negated": True}})


def _left_open(intent: str, slots: Mapping[str, Any]) -> Sequence[tuple[str, Mapping[str, Any]]]:
    """Return what may be said where a pattern says only what it is about; empty where it says everything."""
    if intent == "lamp" and not slots:
        return LAMPS
    if intent == "rotation" and "travel" in slots and not {"shafts", "sense"} & set(slots):
        return OF_WHEEL if "item" in slots else SENSES
    if intent == "hand_back" and slots.get("item") == "selector" and "state" not in slots:
        return SELECTOR
    return ()


def contact_groups(chart: ContactChart, labels: Iterable[str]) -> tuple[Question, ...]:
    """Return the contacts as questions, rotor by rotor in the order of the chart."""
    wanted = set(labels)
    groups = []
    for rotor in chart.rotors:
        here = [contact.label for contact in chart.contacts_of(rotor.id) if contact.label in wanted]
        if here:
            groups.append(Question("contacts", "Each contact, as you find it.", rotor=rotor.id, labels=here))
    return tuple(groups)


def range_in_words(limits: Limits | None) -> str:
    """Return the limits of a value in words; empty where there are none."""
    if limits is None or (limits.minimum is None and limits.maximum is None):
        return ""
    unit = f" {_unit_in_words(limits)}".rstrip()
    if limits.minimum is None:
        return f"at most {limits.maximum:g}{unit}"
    if limits.maximum is None:
        return f"at least {limits.minimum:g}{unit}"
    return f"{limits.minimum:g} to {limits.maximum:g}{unit}"


def _slot(limits: Limits | None) -> str:
    return limits.slot if limits else "value"


def _unit(limits: Limits | None) -> str:
    return limits.unit or "" if limits else ""


def _unit_in_words(limits: Limits | None) -> str:
    words = {"turn": "turns", "percent": "%", "ohm": "Ω", "step": "", "count": ""}
    unit = _unit(limits)
    return words.get(unit, unit)
