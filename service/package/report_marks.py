"""Drawings of the report as SVG text: marks beside words, rules of verdicts, the travel ladder.

A mark only repeats a word. Everything is drawn in one stroke width and in the colour of the text around it,
so that it prints in black and means the same without colour.
"""

from collections.abc import Iterable
from html import escape

from service.domain.chart import ContactChart, Rotor

FONT = 'font-family="system-ui, Libertinus Serif, sans-serif" font-size="13"'
"""For the words in a drawing: on a screen that of the system, in print that of the typesetter."""

_OPEN = '<svg class="mark" viewBox="0 0 30 12" width="30" height="12" aria-hidden="true">'
_BAR = '<path d="M2 6h26" stroke="currentColor" stroke-width="4" fill="none"/>'
_GAPPED = '<path d="M2 6h8.5M19.5 6h8.5" stroke="currentColor" stroke-width="4" fill="none"/>'
_HATCHED = (
    '<path d="M2 6h8.5M19.5 6h8.5" stroke="currentColor" stroke-width="4" fill="none"/>'
    '<path d="M11 9l3-6M14 9l3-6M17 9l3-6" stroke="currentColor" stroke-width="1" fill="none"/>'
)
_CUT = '<path d="M2 6h9.5M18.5 6h9.5M12.5 10.5l5-9" stroke="currentColor" stroke-width="4" fill="none"/>'
_EMPTY = '<rect x="2" y="3" width="26" height="6" stroke="currentColor" stroke-width="1" fill="none"/>'
_CONTACT = {"closed": _BAR, "open": _GAPPED, "either": _HATCHED, "between": _CUT}

_RULES = {
    "agreed": '<path d="M3 0v40M7 0v40" stroke="currentColor" stroke-width="2"/>',
    "claimed": '<path d="M5 0v40" stroke="currentColor" stroke-width="2"/>',
    "seen": '<path d="M5 0v40" stroke="currentColor" stroke-width="2"/>',
    "not-judged": '<path d="M5 0v40" stroke="currentColor" stroke-width="2" stroke-dasharray="2 4"/>',
    "part-way": '<path d="M5 0v40" stroke="currentColor" stroke-width="2" stroke-dasharray="8 5"/>',
    "unshown": "",
}
_ZIGZAG = (
    '<path d="M2 0l6 5-6 5 6 5-6 5 6 5-6 5 6 5-6 5" fill="none" stroke="currentColor" stroke-width="2"/>'
)
_CROSSED = _ZIGZAG + '<path d="M8 0L2 5l6 5-6 5 6 5-6 5 6 5-6 5 6 5" fill="none" stroke="currentColor"/>'


def contact_mark(state: str) -> str:
    """Return the mark of a contact's state: closed, open, either, between; else an empty outline."""
    return f"{_OPEN}{_CONTACT.get(state, _EMPTY)}</svg>"


def verdict_rule(verdict: str) -> str:
    """Return the rule that stands at the left edge of a finding."""
    drawn = _RULES.get(verdict, _CROSSED if verdict == "impossible" else _ZIGZAG)
    box = 'viewBox="0 0 10 40" width="10" preserveAspectRatio="none"'
    return f'<svg class="rule" {box} aria-hidden="true">{drawn}</svg>'


def ladder(chart: ContactChart, checkpoints: Iterable[tuple[str, float]]) -> str:
    """Draw travel as an upright ladder: closed end below, open end above, a rung every ten percent.

    Trip points are notches at the left with the differential as a short tail, from the trip to where the
    rotor resets; checkpoints are wedges at the right.
    """
    rungs = "".join(
        f'<path d="M150 {_y(pct)}h40" stroke="currentColor" stroke-width="1"/>'
        f'<text x="170" y="{_y(pct) - 3}" font-size="12" text-anchor="middle">{pct}</text>'
        for pct in range(0, 101, 10)
    )
    rails = f'<path d="M150 {_y(100)}V{_y(0)}M190 {_y(100)}V{_y(0)}" stroke="currentColor" stroke-width="2"/>'
    notches = "".join(_notch(rotor, label_y) for rotor, label_y in _spread_rotors(chart.rotors))
    wedges = "".join(_wedge(name, pct, label_y) for name, pct, label_y in _spread_names(checkpoints))
    box = 'viewBox="-60 0 560 430" role="img" aria-label="Travel and trip points"'
    return (
        f'<svg class="ladder" {box} {FONT}>'
        f'<text x="170" y="16" text-anchor="middle">open end</text>{rungs}{rails}{notches}{wedges}'
        '<text x="170" y="422" text-anchor="middle">closed end</text></svg>'
    )


def _y(pct: float) -> float:
    return round(400 - 3.7 * pct, 1)


def _notch(rotor: Rotor, label_y: float) -> str:
    trip, back = _y(rotor.trip_pct), _y(rotor.reset_pct)
    towards = "closing" if rotor.trips_towards == "closed" else "opening"
    words = f"{rotor.id} trips at {rotor.trip_pct:g} %, {towards}"
    return (
        f'<path d="M150 {trip}h-16M134 {trip}V{back}" stroke="currentColor" stroke-width="2" fill="none"/>'
        f'<path d="M134 {trip}L126 {label_y}" stroke="currentColor" stroke-width="0.7"/>'
        f'<text x="122" y="{label_y + 4}" text-anchor="end" font-size="12">{escape(words)}</text>'
    )


def _wedge(name: str, pct: float, label_y: float) -> str:
    y = _y(pct)
    return (
        f'<path d="M190 {y}l14 -6v12z" fill="currentColor"/>'
        f'<path d="M204 {y}L216 {label_y}" stroke="currentColor" stroke-width="0.7"/>'
        f'<text x="220" y="{label_y + 4}" font-size="12">{escape(name)}</text>'
    )


def _spread_rotors(rotors: Iterable[Rotor]) -> list[tuple[Rotor, float]]:
    ordered = sorted(rotors, key=lambda rotor: -rotor.trip_pct)
    return list(zip(ordered, _apart([_y(rotor.trip_pct) for rotor in ordered]), strict=True))


def _spread_names(checkpoints: Iterable[tuple[str, float]]) -> list[tuple[str, float, float]]:
    ordered = sorted(checkpoints, key=lambda one: -one[1])
    places = _apart([_y(pct) for _, pct in ordered])
    return [(name, pct, place) for (name, pct), place in zip(ordered, places, strict=True)]


def _apart(places: list[float]) -> list[float]:
    """Move labels, given from top to bottom, so that none covers another."""
    spread: list[float] = []
    for place in places:
        spread.append(max(place, spread[-1] + 15) if spread else place)
    overhang = max(0.0, spread[-1] - 404) if spread else 0.0
    return [round(place - overhang, 1) for place in spread]
