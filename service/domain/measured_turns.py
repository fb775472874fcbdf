"""What was counted by hand on this valve: handwheel turns from stop to stop, and lost motion at both reversals."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.domain.job_state import JobState
from service.domain.procedure import Step
from service.domain.travel import Direction

MOVING: Mapping[str, Direction] = {"closing": "closed", "opening": "open"}
"""The direction of the valve by the word of a statement's slot `travel`."""
END_STATES = ("just_tripped", "still_tripped")


@dataclass(frozen=True, slots=True)
class MeasuredTurns:
    """Handwheel turns: `total` from stop to stop, `lost` per direction after a reversal; absent where not known.

    Only what was confirmed after its read-back, and still stands, counts.
    """

    total: float | None = None
    lost: Mapping[Direction, float] = field(default_factory=dict)

    def pct(self, turns: float) -> float | None:
        """Return turns in percent of travel; None before the total is known."""
        return None if self.total is None else turns / self.total * 100.0


def measured_turns(state: JobState) -> MeasuredTurns:
    """Return what the steps that ask for the total and for lost motion were told."""
    total, lost = None, {}
    for intent in ("turns", "lost_motion"):
        for step, need in state.pinned.by_intent.get(intent, ()):
            known = state.condition(f"{step.id}/{need.id}")
            if need.kind != "value" or known.status != "met" or not isinstance(known.value, int | float):
                continue
            if intent == "turns":
                total = float(known.value)
            elif need.pattern is not None and need.pattern.slots.get("travel") in MOVING:
                lost[MOVING[str(need.pattern.slots["travel"])]] = float(known.value)
    return MeasuredTurns(total or None, lost)


def end_set_by(state: JobState, step: Step) -> Direction | None:
    """Return the end that a step and the others of its lane set and judge; None where they set none."""
    if step.lane is None:
        return None
    for other in state.pinned.procedure.steps:
        if other.lane == step.lane and other.checkpoint is not None:
            for end, role in (("closed", "closed_end"), ("open", "open_end")):
                if other.checkpoint.rotors.get(role) in END_STATES:
                    return "closed" if end == "closed" else "open"
    return None
