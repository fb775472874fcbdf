"""A contact chart as a picture: the ladder of travel, a column per contact, hatched where it is closed.

A column shows its contact as it is while the valve moves in its rotor's own trip direction. The notch beside
a rotor's columns is its trip point, the tail its differential on the way back. Colours carry no state.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from textwrap import wrap

from service.domain.chart import ContactChart, Rotor
from service.domain.chart_dangers import Danger
from service.domain.travel import Travel
from service.drawings.ladder import height_of, ladder, wedge
from service.drawings.svg import document, hatched, line, polygon, rect, shortened, text

COLUMN = 42.0
GAP = 96.0
LEFT = 150.0
TOP = 150.0
LADDER_HEIGHT = 560.0
LEGEND_LINE = 22.0
LEGEND_WIDTH = 100


@dataclass(frozen=True)
class ChartView:
    """What to draw besides the chart: the present travel, trip points as found, and dangers to name."""

    travel: Travel | None = None
    as_found: ContactChart | None = None
    dangers: tuple[Danger, ...] = ()


def draw_chart(chart: ContactChart, view: ChartView | None = None) -> str:
    """Return the SVG of a contact chart."""
    view = view or ChartView()
    at = height_of(TOP, TOP + LADDER_HEIGHT)
    parts, x = [ladder(60.0, 34.0, at)], LEFT
    for rotor in chart.rotors:
        drawn, x = _rotor(chart, rotor, view, at, x)
        parts.append(drawn)
    width = max(x + 30.0, 820.0)
    if view.travel:
        parts.append(wedge(96.0, at, view.travel.pct, view.travel.plus_minus_pct, width - 20.0))
    notes = _legend(chart, view)
    top = TOP + LADDER_HEIGHT + 56.0
    parts += [text(24, 36, f"{chart.valve}: contact chart", "large"), *_head(chart)]
    parts += [text(24, top + number * LEGEND_LINE, words, kind) for number, (words, kind) in enumerate(notes)]
    height = top + len(notes) * LEGEND_LINE + 12.0
    return document(
        width, height, f"Contact chart of {chart.valve}", " ".join(words for words, _ in notes), parts
    )


def _head(chart: ContactChart) -> list[str]:
    ends = f"Closed end: stopped by {chart.closed_end}. Open end: stopped by {chart.open_end}."
    source = f"Taken from {chart.drawing}. " if chart.drawing else ""
    return [text(24, 60, shortened(f"{source}{ends}", 100), "soft")]


def _rotor(
    chart: ContactChart, rotor: Rotor, view: ChartView, at: Callable[[float], float], x: float
) -> tuple[str, float]:
    """Return the drawing of one rotor's columns, and where the next may begin."""
    contacts = chart.contacts_of(rotor.id)
    parts = [
        text(x, 94, f"rotor {rotor.id}", "bold"),
        text(x, 110, f"trips towards {rotor.trips_towards}", "soft small"),
    ]
    right = x + COLUMN * max(1, len(contacts))
    for number, contact in enumerate(contacts):
        left = x + number * COLUMN
        parts.append(_column(rotor, at, left + 5, makes=contact.action == "makes"))
        parts.append(text(left + COLUMN / 2 - 1, 132, shortened(contact.label, 6), "bold", "middle"))
    parts.append(_notch(rotor, at, x - 6, right, dashed=False))
    found = _as_found(rotor, view)
    if found:
        parts.append(_notch(found, at, x - 6, right, dashed=True))
    return "".join(parts), right + GAP


def _as_found(rotor: Rotor, view: ChartView) -> Rotor | None:
    if view.as_found is None:
        return None
    found = next((one for one in view.as_found.rotors if one.id == rotor.id), None)
    return found if found and found.trip_pct != rotor.trip_pct else None


def _column(rotor: Rotor, at: Callable[[float], float], x: float, *, makes: bool) -> str:
    """Return one contact along the travel: hatched where it is closed, empty where it is open."""
    drawn = rect(x, at(100), COLUMN - 12, at(0) - at(100), "card")
    for low, high in pairwise((0.0, rotor.trip_pct, 100.0)):
        above = low >= rotor.trip_pct
        tripped = above == (rotor.trips_towards == "open")
        if high > low and tripped == makes:
            drawn += hatched(x, at(high), COLUMN - 12, at(low) - at(high))
    return drawn + line(x, at(100), x, at(0)) + line(x + COLUMN - 12, at(100), x + COLUMN - 12, at(0))


def _notch(rotor: Rotor, at: Callable[[float], float], x: float, right: float, *, dashed: bool) -> str:
    """Return a trip point as a notch with its differential as a tail, and its figures in words."""
    y, back = at(rotor.trip_pct), at(rotor.reset_pct)
    kind = "dashed" if dashed else "heavy"
    label = y + (16 if rotor.trips_towards == "closed" else -8)
    words = f"as found {rotor.trip_pct:g} %" if dashed else f"{rotor.trip_pct:g} %"
    return (
        line(x, y, right, y, kind)
        + polygon([(x, y - 5), (x, y + 5), (x + 9, y)], "ink")
        + line(x - 3, y, x - 3, back, kind)
        + line(x - 6, back, x, back, kind)
        + text(right + 3, label if not dashed else y + 4, words, "small")
    )


def _legend(chart: ContactChart, view: ChartView) -> list[tuple[str, str]]:
    """Return the legend in words, dangers first."""
    rows = [
        (words, "against bold")
        for danger in view.dangers
        for words in wrap(f"Dangerous to set: {danger.reason}", LEGEND_WIDTH, subsequent_indent="   ")
    ]
    rows.append(
        ("Hatched: closed. Empty: open, while the valve moves in the rotor's own trip direction.", "soft")
    )
    rows.append(("Notch: trip point; its tail: the differential on the way back.", "soft"))
    rows.append(("The tenth at each end of the ladder is drawn larger.", "soft"))
    if view.as_found:
        rows.append(("Solid notch: as in this chart. Dashed notch: as found, where it differs.", "soft"))
    rows.append(
        ("Drawn from the chart, not from the valve. Local rules and the site permit come first.", "soft")
    )
    rows.append(("", "soft"))
    for contact in chart.contacts:
        volts = "" if contact.voltage_v is None else f", {contact.voltage_v:g} V"
        rows.append(
            (
                shortened(f"{contact.label}: {contact.action} on {contact.rotor}, {contact.use}{volts}", 104),
                "ink",
            )
        )
    return rows
