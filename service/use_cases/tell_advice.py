"""Tell which way to turn each setting shaft, until what, how far, and when not to; command and API tell the same."""

from typing import Any

from service.domain.circuit_report import every_danger
from service.domain.fields import in_part
from service.domain.setting_advice import Advice, advise
from service.ports import ValveStated, Wiring

CAUTION = (
    "Only with the power locked out, tags applied and the circuits proved dead by those on site. "
    "Local rules and the site permit come first."
)


def tell_advice(valve: ValveStated, wiring: Wiring) -> list[dict[str, Any]]:
    """Return the advice for each rotor of the chart, in its order; none to set a chart that is dangerous."""
    situation = valve.situation
    scale = valve.scale if valve.has_scale else None
    chart = wiring.circuits.chart
    with in_part("setting"):
        advice = advise(chart, situation, scale)
    dangers = every_danger(wiring.circuits, wiring.indication_within_pct)
    if dangers and situation.goal == "set_here":
        reason = (
            f"This chart is only recorded as found, never set: {dangers[0].reason} Change the chart first."
        )
        advice = tuple(Advice(one.rotor, "none", None, None, reason) for one in advice)
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
