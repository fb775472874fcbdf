"""The switch of a job drawn from its layout, and each rotor as it lies at rest and tripped.

What a rotor looks like follows from chart and layout alone; it is drawn for every checkpoint alike and says
nothing of this one. Lengths in mm in the plan's frame (x right, y up), angles in degrees, anticlockwise from
x.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.domain.chart import ContactChart

ACROSS = 90.0


@dataclass(frozen=True)
class Bar:
    """One bar, a rectangle about the rotor's centre; `upper` lies nearer to the viewer."""

    upper: bool
    angle: float
    length: float
    width: float


@dataclass(frozen=True)
class RotorDrawing:
    """A rotor: centre on the page (y down), drum radius, finger axis, bars both ways, labels by bar."""

    id: str
    x: float
    y: float
    radius: float
    fingers: float
    at_rest: tuple[Bar, ...]
    tripped: tuple[Bar, ...]
    labels: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Plan:
    """The plan view: its size in mm and its rotors."""

    width: float
    height: float
    rotors: tuple[RotorDrawing, ...]


def plan_of(layout: Mapping[str, Any], chart: ContactChart) -> Plan:
    """Return the plan of a layout with a chart's labels; a rotor that the chart does not name is bare."""
    width, height = layout["plan_size_mm"]
    rotors = tuple(_rotor(rotor, chart, height) for rotor in layout["rotors"])
    return Plan(width, height, rotors)


def _rotor(rotor: Mapping[str, Any], chart: ContactChart, height: float) -> RotorDrawing:
    x, y = rotor["centre_mm"]
    fingers = float(rotor["finger_axis_deg"])
    along = chart.along_at_rest.get(rotor["id"])
    return RotorDrawing(
        id=rotor["id"],
        x=x,
        y=height - y,
        radius=float(rotor["drum_radius_mm"]),
        fingers=fingers,
        at_rest=_bars(rotor, fingers, along),
        tripped=_bars(rotor, fingers, _other(along)),
        labels=_labels(rotor, chart),
    )


def _bars(rotor: Mapping[str, Any], fingers: float, along: str | None) -> tuple[Bar, ...]:
    """Return the bars, the lower one first, to be drawn over; none where nothing is known."""
    if along is None:
        return ()
    lower_first = sorted(rotor["bars"], key=lambda bar: bar["id"] == "upper")
    return tuple(
        Bar(
            bar["id"] == "upper",
            fingers if bar["id"] == along else fingers + ACROSS,
            float(bar["length_mm"]),
            float(bar["width_mm"]),
        )
        for bar in lower_first
    )


def _other(along: str | None) -> str | None:
    return {"upper": "lower", "lower": "upper"}.get(along or "")


def _labels(rotor: Mapping[str, Any], chart: ContactChart) -> dict[str, tuple[str, ...]]:
    """Return the labels on each bar, in the order of the layout; which end of a bar is whose is not drawn."""
    at = {contact.place: contact.label for contact in chart.contacts if contact.rotor == rotor["id"]}
    return {
        bar["id"]: tuple(at[contact["id"]] for contact in bar["contacts"] if contact["id"] in at)
        for bar in rotor["bars"]
    }
