"""Builds circuits from text for tests of the domain; the text is read by the program's own adapter."""

from service.definitions.expressions import parse_expression
from service.domain.circuits import Circuits, Lamp


def circuits(chart, closing="", opening="", *, lamps=None, shows=None, signals=None) -> Circuits:
    return Circuits(
        chart,
        {
            "closed": parse_expression(
                closing or "command close and contact 9 and torque closing", "closing"
            ),
            "open": parse_expression(opening or "command open and contact 12 and torque opening", "opening"),
        },
        tuple(Lamp(name, name, parse_expression(text, name)) for name, text in (lamps or {}).items()),
        {name: parse_expression(text, name) for name, text in (signals or {}).items()},
        {name: parse_expression(text, name) for name, text in (shows or {}).items()},
    )
