"""A contact chart as a picture: the ladder of travel, a column per contact, hatched where it is closed.

A column shows its contact as it is while the valve moves in its rotor's own trip direction. The notch beside
a rotor's columns is its trip point, the tail its differential on the way back. Colours carry no state.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from service.domain.chart import ContactChart, Rotor
from service.domain.chart_dangers import Danger
from service.domain.travel import Travel
from service.drawings.chart_legend import draw_legend, rows_of
from service.drawings.ladder import height_of, ladder, wedge
from service.drawings.svg import document, hatched, line, polygon, rect, shortened, text

NARROW, WIDE = 42.0, 112.0
LETTER = 9.0
LONGEST_LABEL = 12
GAP = 104.0
LEFT = 150.0
TOP = 150.0
LADDER_HEIGHT = 560.0
NOW_WIDTH = 150.0
NARROWEST = 820.0
LABEL_APART = 15.0


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
    longest = max((len(contact.label) for contact in chart.contacts), default=1)
    column = min(WIDE, max(NARROW, LETTER * longest + 14.0))
    parts, x = [ladder(60.0, 34.0, at)], LEFT
    for rotor in chart.rotors:
        drawn, x = _rotor(chart, rotor, view, at, x, column)
        parts.append(drawn)
    width = max(x + (NOW_WIDTH if view.travel else 20.0), NARROWEST)
    if view.travel:
        parts.append(wedge(96.0, at, view.travel.pct, view.travel.plus_minus_pct, width - 20.0))
    rows = rows_of(chart, as_found=view.as_found, dangers=view.dangers)
    legend, height = draw_legend(rows, TOP + LADDER_HEIGHT + 56.0, width)
    parts += [text(24, 36, f"{chart.valve}: contact chart", "large"), *_head(chart), legend]
    title, spoken = f"Contact chart of {chart.valve}", " ".join(words for words, _ in rows)
    return document(width, height, title, spoken, parts)


def _head(chart: ContactChart) -> list[str]:
    ends = f"Closed end: stopped by {chart.closed_end}. Open end: stopped by {chart.open_end}."
    source = f"Taken from {chart.drawing}. " if chart.drawing else ""
    return [text(24, 60, shortened(f"{source}{ends}", 100), "soft")]


def _rotor(  # noqa: PLR0913 - what is drawn, how, and where
    chart: ContactChart,
    rotor: Rotor,
    view: ChartView,
    at: Callable[[float], float],
    x: float,
    column: float,
) -> tuple[str, float]:
    """Return the drawing of one rotor's columns, and where the next may begin."""
    contacts = chart.contacts_of(rotor.id)
    parts = [
        text(x, 94, shortened(f"rotor {rotor.id}", 20), "bold"),
        text(x, 110, f"trips towards {rotor.trips_towards}", "soft small"),
    ]
    right = x + column * max(1, len(contacts))
    for number, contact in enumerate(contacts):
        left = x + number * column
        parts.append(_column(rotor, at, left + 5, column - 12, makes=contact.action == "makes"))
        words = shortened(contact.label, LONGEST_LABEL)
        parts.append(text(left + column / 2 - 1, 132, words, "bold", "middle"))
    parts.append(_notch(rotor, at, x - 6, right, dashed=False))
    labels = [(at(rotor.trip_pct), f"{rotor.trip_pct:g} %")]
    found = _as_found(rotor, view)
    if found:
        parts.append(_notch(found, at, x - 6, right, dashed=True))
        labels.append((at(found.trip_pct), f"found {found.trip_pct:g} %"))
    parts += [text(right + 5, y + 4, words, "small") for y, words in apart(labels, LABEL_APART)]
    return "".join(parts), right + GAP


def apart(labels: Sequence[tuple[float, str]], least: float) -> list[tuple[float, str]]:
    """Return words with their heights, those that lie closer than `least` moved apart evenly."""
    placed: list[tuple[float, str]] = []
    for y, words in sorted(labels):
        lack = least - (y - placed[-1][0]) if placed else 0.0
        if lack > 0:
            placed[-1] = (placed[-1][0] - lack / 2, placed[-1][1])
            y += lack / 2  # noqa: PLW2901 - moved by what lacks
        placed.append((y, words))
    return placed


def _as_found(rotor: Rotor, view: ChartView) -> Rotor | None:
    if view.as_found is None:
        return None
    found = next((one for one in view.as_found.rotors if one.id == rotor.id), None)
    return found if found and found.trip_pct != rotor.trip_pct else None


def _column(rotor: Rotor, at: Callable[[float], float], x: float, width: float, *, makes: bool) -> str:
    """Return one contact along the travel: hatched where it is closed, empty where it is open."""
    drawn = rect(x, at(100), width, at(0) - at(100), "card")
    for low, high in pairwise((0.0, rotor.trip_pct, 100.0)):
        above = low >= rotor.trip_pct
        tripped = above == (rotor.trips_towards == "open")
        if high > low and tripped == makes:
            drawn += hatched(x, at(high), width, at(low) - at(high))
    return drawn + line(x, at(100), x, at(0)) + line(x + width, at(100), x + width, at(0))


def _notch(rotor: Rotor, at: Callable[[float], float], x: float, right: float, *, dashed: bool) -> str:
    """Return a trip point as a notch with its differential as a tail, that of a point as found further out."""
    y, back = at(rotor.trip_pct), at(rotor.reset_pct)
    kind, tail = ("dashed", x - 9) if dashed else ("heavy", x - 3)
    return (
        line(x, y, right, y, kind)
        + polygon([(x, y - 5), (x, y + 5), (x + 9, y)], "ink")
        + line(tail, y, tail, back, kind)
        + line(tail - 3, back, tail + 3, back, kind)
    )
