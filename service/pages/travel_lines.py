"""Where the valve stands and what was counted on it, in lines for the technician's page.

What is not known is said with its reason; a figure is shown with its doubt (two standard deviations) and its evidence.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from service.domain.procedure import Condition

ABOUT_TRAVEL = frozenset({"travel", "turns", "lost_motion", "snapped", "trip"})
"""Intents of conditions beside which it matters where the valve stands."""
HOW = {"stated": "as stated", "seen": "as seen", "counted": "as counted"}
ENOUGH = {True: "Enough.", False: "Too little.", None: ""}

Travel = Mapping[str, Any]


def is_about_travel(needs: Iterable[Condition]) -> bool:
    """Return whether a step asks for something that moves the valve or tells where it stands."""
    return any(need.pattern is not None and need.pattern.intent in ABOUT_TRAVEL for need in needs)


def standing(travel: Travel) -> str:
    """Return where the valve stands, or why that is not known.

    Examples
    --------
    >>> told = {"percent": 43.02, "sigma": 0.44, "evidence": "counted"}
    >>> standing({**told, "turns": 17.2, "of_total": 40, "from": "closed"})
    'Stands at 43 % open, give or take 0.9: 17.2 of 40 turns from the closed end.'

    """
    if travel["percent"] is None:
        return f"Where the valve stands is not known. {travel['why_unknown']}"
    doubt = 2.0 * travel["sigma"]
    place = f"Stands at {_percent(travel['percent'], doubt)} % open, give or take {_doubt(doubt)}"
    if travel["evidence"] == "counted" and travel["turns"] is not None and travel["of_total"]:
        told = f"{travel['turns']:g} of {travel['of_total']:g} turns from the {travel['from']} end"
    else:
        told = HOW.get(travel["evidence"], "")
    return f"{place}: {told}."


def counted(travel: Travel) -> list[str]:
    """Return what was counted on this valve and how far each end is set from its stop, a line each."""
    lines = []
    if travel["of_total"] and travel["percent_a_turn"]:
        stem = travel["stem_a_turn"]
        moves = f", {stem['moves']:g} {stem['unit']}" if stem else ""
        one = f"One turn of the handwheel is {travel['percent_a_turn']:.2g} %{moves}"
        lines.append(f"{one}; {travel['of_total']:g} turns from stop to stop.")
    lost = [f"{turns:g} {way}" for way, turns in travel["lost_motion"].items() if turns is not None]
    if lost:
        lines.append(f"Turns lost after a reversal: {', '.join(lost)}.")
    return lines + [_end(one) for one in travel["ends"]]


def _end(end: Mapping[str, Any]) -> str:
    words = f"{end['end'].capitalize()} end: set {end['back_off_turns']:g} turns short of its stop"
    if end["margin_percent"] is not None:
        words += f", a true margin of {end['margin_percent']:.2g} %"
    if end["required_percent"] is not None:
        words += f" where {end['required_percent']:.2g} % are needed"
    return " ".join(one for one in (f"{words}.", ENOUGH[end["enough"]], end["reason"]) if one)


def _percent(value: float, doubt: float) -> str:
    return f"{value:.0f}" if doubt >= 0.5 else f"{value:.1f}"


def _doubt(value: float) -> str:
    return f"{value:.0f}" if value >= 1.95 else f"{value:.1f}"
