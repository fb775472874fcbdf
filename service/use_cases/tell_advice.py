"""Tell which way to turn each setting shaft, until what, how far, and when not to; command and API tell the same."""

from typing import Any

from service.domain.circuits import Circuits
from service.domain.fields import in_part
from service.domain.setting_advice import advise
from service.ports import ValveStated

CAUTION = (
    "Only with the power locked out, tags applied and the circuits proved dead by those on site. "
    "Local rules and the site permit come first."
)


def tell_advice(valve: ValveStated, circuits: Circuits) -> list[dict[str, Any]]:
    """Return the advice for each rotor of the chart, in its order."""
    situation = valve.situation
    scale = valve.scale if valve.has_scale else None
    with in_part("", {"rotor": "setting.tripped"}):
        advice = advise(circuits.chart, situation, scale)
    return [
        {
            "rotor": one.rotor,
            "turn": one.turn,
            "until": one.until,
            "turns": None if one.turns is None else round(one.turns, 4),
            "reason": one.reason,
        }
        for one in advice
    ]
