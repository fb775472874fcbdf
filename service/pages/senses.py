"""Which way the setting shafts were seen to turn, and what that means for the rotor that is set now.

The sense that counts for a rotor is the one observed while the valve moved in the rotor's own trip direction;
nothing is advised while the two observations contradict each other (common practice, no source).
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from service.domain.chart import ContactChart
from service.domain.procedure import Condition

MOVING = {"closed": "closing", "open": "opening"}
REVERSE = {"clockwise": "counter-clockwise", "counter-clockwise": "clockwise"}
CONTRADICTION = (
    "The shafts were said to turn the same way in both directions. Both cannot be: observe both again. "
    "Nothing is advised until then."
)


def advice_lines(advice: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """Return the advice on each rotor that a step sets, once it rests on what was said and photographed.

    Examples
    --------
    >>> advice_lines([{"rotor": "R1", "turn": "clockwise", "until": "trips", "turns": 0.4, "reason": "Not tripped."}])
    ('R1: turn its shaft clockwise until it trips, about 0.4 turns. Not tripped.',)

    """
    return tuple(_advice(one) for one in advice)


def _advice(one: Mapping[str, Any]) -> str:
    if one["turn"] == "none":
        named = "" if str(one["reason"]).startswith(one["rotor"]) else f"{one['rotor']}: "
        return f"{named}{one['reason']}"
    far = f", about {one['turns']:g} turns" if one["turns"] is not None else ""
    return f"{one['rotor']}: turn its shaft {one['turn']} until it {one['until']}{far}. {one['reason']}"


def sense_of_turning(
    needs: Iterable[Condition], chart: ContactChart, observed: Mapping[str, str]
) -> tuple[str, ...]:
    """Return what to do with the shaft of each rotor that a step sets; empty where it sets none."""
    rotors = [_named(chart, need.pattern.slots["rotor"]) for need in needs if _is_set(need) and need.pattern]
    if not rotors:
        return ()
    seen = {moving: sense.replace("_", "-") for moving, sense in observed.items()}
    if len(seen) == 2 and len(set(seen.values())) == 1:
        return (CONTRADICTION,)
    return tuple(_sentence(chart, rotor, seen) for rotor in rotors)


def _named(chart: ContactChart, spoken: object) -> str:
    """Return the chart's rotor that people call by its number."""
    return next((rotor.id for rotor in chart.rotors if rotor.id in {spoken, f"R{spoken}"}), str(spoken))


def _is_set(need: Condition) -> bool:
    pattern = need.pattern
    if pattern is None or pattern.intent != "snapped":
        return False
    return "rotor" in pattern.slots and "state" not in pattern.slots


def _sentence(chart: ContactChart, rotor: str, seen: Mapping[str, str]) -> str:
    moving = MOVING[chart.rotor(rotor).trips_towards]
    sense = seen.get(moving)
    if sense not in REVERSE:
        return f"{rotor}: its shaft was not observed while {moving}, so nothing is advised. Observe it first."
    return (
        f"{rotor}: seen facing the slot, its shaft turned {sense} while {moving}. "
        f"Not tripped yet: turn it {sense} until it just snaps. "
        f"Tripped already: turn it {REVERSE[sense]} until it resets, then back until it just snaps."
    )
