"""Which way to turn the setting shafts, in lines for the technician's page; the rule itself is the domain's."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from service.domain.procedure import Condition

NOT_YET = "Which way to turn a shaft is said once its rotor was said and photographed, and both agree."


def advice_lines(needs: Iterable[Condition], advice: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """Return the advice on each rotor that a step sets, or why there is none yet; empty where it sets none."""
    if advice:
        return tuple(_line(one) for one in advice)
    sets = any(need.pattern is not None and need.pattern.intent == "snapped" for need in needs)
    return (NOT_YET,) if sets else ()


def _line(one: Mapping[str, Any]) -> str:
    if one["turn"] == "none":
        named = "" if str(one["reason"]).startswith(one["rotor"]) else f"{one['rotor']}: "
        return f"{named}{one['reason']}"
    far = f", about {one['turns']:g} turns" if one["turns"] is not None else ""
    return f"{one['rotor']}: turn its shaft {one['turn']} until it {one['until']}{far}. {one['reason']}"
