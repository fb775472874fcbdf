"""What a contact chart says, in words."""

from collections.abc import Mapping
from typing import Any

from service.domain.circuits import Circuits

_LIT = {True: "lit", False: "dark", None: "cannot tell"}
_LIVE = {True: "on", False: "off", None: "cannot tell"}


def chart_in_words(circuits: Circuits, said: Mapping[str, Any]) -> str:
    """Return what is told as JSON in words: at one travel, or of the whole chart."""
    if "contacts" in said:
        rows = [
            f"contact {label}: {state}   ({circuits.chart.contact(label).use})"
            for label, state in said["contacts"].items()
        ]
        rows += [f"lamp {name}: {_LIT[lit]}" for name, lit in said["lamps"].items()]
        rows += [f"the lamps show: {name}" for name in said["shows"]]
        rows += [f"signal {name}: {_LIVE[live]}" for name, live in said["signals"].items()]
        rows += [f"motor towards {stop['direction']}: {_stop_in_words(stop)}" for stop in said["stops"]]
        return "\n".join(rows)
    rows = [
        f"{said['valve']}: {len(circuits.chart.contacts)} contacts on {len(circuits.chart.rotors)} rotors"
    ]
    rows += [
        f"rotor {one.id} trips at {one.trip_pct:g} % towards {one.trips_towards}, resets at "
        f"{one.reset_pct:g} %"
        for one in circuits.chart.rotors
    ]
    rows += [f"towards {stop['direction']}: stopped by {stop['by']}{_at_pct(stop)}" for stop in said["stops"]]
    rows += [
        f"towards {one['direction']}: torque switch bridged from {one['from_pct']:g} to {one['to_pct']:g} %, "
        f"{one['length_pct']:g} % of travel{_turns(one['drive_turns'])}"
        for one in said["bypasses"]
    ]
    rows += [
        f"lamps towards {way}, {step['from_pct']:g} to {step['to_pct']:g} %: "
        + ", ".join(f"{name} {_LIT[lit]}" for name, lit in step["lit"].items())
        for way, steps in said["lamps"].items()
        for step in _joined(steps)
    ]
    return "\n".join(rows)


def _joined(steps: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the zones of a stroke with those joined in which the lamps do not change."""
    joined: list[dict[str, Any]] = []
    for step in steps:
        if joined and joined[-1]["lit"] == step["lit"]:
            joined[-1] = {**joined[-1], "to_pct": step["to_pct"]}
        else:
            joined.append(step)
    return joined


def _stop_in_words(stop: dict[str, Any]) -> str:
    if stop["here"] is None:
        return f"stopped by {stop['by']}; cannot tell whether here"
    return f"held here by {stop['by']}" if stop["here"] else f"runs on until {stop['by']}{_at_pct(stop)}"


def _at_pct(stop: dict[str, Any]) -> str:
    return "" if stop["at_pct"] is None else f" at {stop['at_pct']:g} %"


def _turns(drive_turns: float | None) -> str:
    return "" if drive_turns is None else f", {drive_turns:.3g} drive turns"
