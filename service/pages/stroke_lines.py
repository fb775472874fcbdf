"""What the page shows of a stroke: its marks, its time against what was expected, and what is said of it."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.domain.procedure import Step, stroke_need

Shown = dict[str, Any]
Stroke = Mapping[str, Any]

MARKS = (("start", "Starts"), ("end", "Stands still"))
"""The moments that make a stroke, with the words on their buttons."""
MORE_MARKS = (("moving", "Valve moves"),)
ORDER = {"differs": 0, "cannot_tell": 1, "fits": 2}


def stroke_view(step: Step, told: Mapping[str, Any], strokes: Sequence[Stroke]) -> Shown | None:
    """Return what a step shows of its stroke; None where it has none.

    `ready` says that a hand was said to be on the proved stop, which comes before the first mark; `needs_reason`
    that nothing is lacking for the release but a reason for the stroke that differs.
    """
    need = stroke_need(step)
    if need is None:
        return None
    here = [one for one in strokes if one["step"] == step.id]
    newest = here[-1] if here else None
    unmet = [one["id"] for one in told["needs"] if one["status"] != "met"]
    hands = {one.id for one in step.needs if one.pattern and one.pattern.intent == "hand_on_stop"}
    return {
        "ready": not hands & set(unmet),
        "buttons": [_button(at, words) for at, words in MARKS],
        "more": [_button(at, words) for at, words in MORE_MARKS],
        "marks": [mark_line(mark) for mark in newest["marks"]] if newest else [],
        "last": newest["marks"][-1]["items"][-1] if newest and newest["marks"] else None,
        "time": time_line(newest) if newest else "",
        "lacking": list(newest["lacking"]) if newest else [],
        "remarks": sorted(newest["remarks"], key=lambda one: ORDER.get(one["standing"], 1)) if newest else [],
        "differs": bool(newest and newest["verdict"] == "differs"),
        "earlier": [
            f"Run {one['number']}: {'; '.join(one['lacking'])}" for one in here[:-1] if one["lacking"]
        ],
        "needs_reason": bool(newest and newest["verdict"] == "differs" and unmet == [need.id]),
    }


def mark_line(mark: Mapping[str, Any]) -> str:
    """Return one mark in words.

    Examples
    --------
    >>> mark_line({"what": "stop", "t_s": 52.31, "sigma_s": 0.32, "how": "spoken"})
    'stop: 52.3 s after the start, give or take 0.6 s (spoken)'

    """
    if mark["t_s"] is None:
        return f"{mark['what']}: no start is marked ({mark['how']})"
    if mark["what"] == "start":
        return f"start ({mark['how']})"
    doubt = 2.0 * mark["sigma_s"]
    return f"{mark['what']}: {mark['t_s']:.1f} s after the start, give or take {doubt:.1f} s ({mark['how']})"


def time_line(stroke: Stroke) -> str:
    """Return how long a stroke took and how long it should take; empty where it is not timed."""
    if stroke["took_s"] is None:
        return ""
    took = f"It took {stroke['took_s']:.1f} s, give or take {2.0 * stroke['sigma_s']:.1f} s"
    if stroke["expected_s"] is None:
        return f"{took}. What it should take is not known."
    due = f"{stroke['expected_s']:.1f} s, give or take {2.0 * stroke['expected_sigma_s']:.1f} s"
    place = "" if stroke["from_percent"] is None else f", from {stroke['from_percent']:.0f} % open"
    return f"{took}. Expected: {due}{place}."


def _button(at: str, words: str) -> Shown:
    return {"words": words, "statement": {"intent": "mark", "slots": {"at": at}}}
