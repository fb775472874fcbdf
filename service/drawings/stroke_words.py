"""A rehearsed stroke as a table in words."""

from collections.abc import Mapping
from typing import Any


def stroke_in_words(caution: str, said: Mapping[str, Any]) -> str:
    """Return the events of a stroke, what stops it, what is left, and what its marks say; the caution comes first."""
    rows = [caution, f"{'time':>9}  {'doubt':>7}  {'travel':>8}"]
    rows += [
        f"{event['t_s']:7.2f} s  ± {2 * event['sigma_s']:4.2f} s  {event['travel_pct']:6.2f} %  {event['what']}"
        for event in said["events"]
    ]
    turning = said["left_to_stop_mm"] is None
    left = said["left_to_stop_deg"] if turning else said["left_to_stop_mm"]
    rows.append(f"stopped by: {said['stopped_by']}")
    if left is not None:
        unit = "degrees" if turning else "mm"
        rows.append(f"left to the hard stop: {left:.2f} {unit} (± {2 * said['left_sigma']:.2f})")
    rows += [f"{one['topic'].replace('_', ' ')}: {one['sentence']}" for one in said.get("judged", ())]
    return "\n".join(rows)


def advice_in_words(caution: str, advice: list[dict[str, Any]]) -> str:
    """Return the advice for each setting shaft; the caution comes first."""
    rows = [caution]
    for one in advice:
        far = "" if one["turns"] is None else f", about {one['turns']:.2f} turns of the shaft"
        rows.append(f"{one['rotor']}: turn {one['turn']}{far}. {one['reason']}")
    return "\n".join(rows)
