"""What a procedure's gates ask for at an end that is seated by torque in place of being stopped by the limit.

At such an end the torque switch must stop the stroke, and a limit that stops it there sends the job back; at
the other end it is the reverse (common practice, no source).
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from service.domain.chart import Seating
from service.domain.safety_gates import Need, WayBack
from service.domain.travel import Direction

MOVEMENT: Mapping[Direction, str] = {"closed": "closing", "open": "opening"}


def need_at(need: Need, seats: Mapping[Direction, Seating]) -> Need:
    """Return a gate's need with the stop that the procedure's own seating asks for."""
    if need.intent != "trip":
        return need
    end = next(end for end, movement in MOVEMENT.items() if need.slots["travel"] == movement)
    if seats[end] == "limit":
        return need
    return replace(need, says=f"tripped on torque, {MOVEMENT[end]}", slots={**need.slots, "cause": "torque"})


def ways_back_at(ways: Iterable[WayBack], seats: Mapping[Direction, Seating]) -> tuple[WayBack, ...]:
    """Return the ways back: a stop by what does not seat that end makes void what a wrong stop makes void."""
    found = []
    for way in ways:
        if way.id != "torque_stop" or "torque" not in seats.values():
            found.append(way)
            continue
        for end, seating in seats.items():
            cause = "torque" if seating == "limit" else "limit"
            slots = {**way.slots, "cause": cause, "travel": MOVEMENT[end]}
            says = f"{cause} stopped it {MOVEMENT[end]}, where {seating} should"
            found.append(replace(way, id=f"{cause}_stop", says=says, slots=slots))
    return tuple(found)
