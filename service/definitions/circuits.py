"""Reads the circuits of a chart file: text to trees, names to lamps and signals."""

from typing import Any

from service.definitions.expressions import parse_expression
from service.domain.chart import ContactChart
from service.domain.circuits import MOTOR_WORD, Circuits, Lamp, plain_circuits
from service.domain.fields import in_part


def circuits_of(document: dict[str, Any], chart: ContactChart) -> Circuits:
    """Return the circuits of a chart document that fits its schema; where none are stated, those it implies.

    Raises
    ------
    BadDefinition
        An expression cannot be read, speaks of something that is not there, or depends on itself.

    """
    entry = document.get("circuits")
    if entry is None:
        return plain_circuits(chart)
    motor = {
        direction: parse_expression(entry["motor"][word], f"circuits.motor.{word}")
        for direction, word in MOTOR_WORD.items()
    }
    lamps = tuple(
        Lamp(
            name,
            lamp.get("colour", ""),
            parse_expression(lamp["lit_when"], f"circuits.lamps.{name}.lit_when"),
        )
        for name, lamp in entry.get("lamps", {}).items()
    )
    signals = {
        name: parse_expression(text, f"circuits.signals.{name}")
        for name, text in entry.get("signals", {}).items()
    }
    shows = {
        name: parse_expression(text, f"circuits.shows.{name}")
        for name, text in entry.get("shows", {}).items()
    }
    where = {
        **{f"circuits.motor {way}": f"circuits.motor.{word}" for way, word in MOTOR_WORD.items()},
        **{f"circuits.lamp {name}": f"circuits.lamps.{name}.lit_when" for name in entry.get("lamps", {})},
        **{f"circuits.signal {name}": f"circuits.signals.{name}" for name in signals},
        **{f"circuits.shows {name}": f"circuits.shows.{name}" for name in shows},
    }
    with in_part("", where):
        return Circuits(chart, motor, lamps, signals, shows)
