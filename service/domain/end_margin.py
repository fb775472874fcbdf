"""How far short of its hard stop each end is set, by the turns that were counted, and how far it should be."""

from dataclasses import dataclass

from service.domain.back_off import HALF_A_TURN, Way, question_about_back_off, true_margin_pct
from service.domain.job_state import JobState
from service.domain.measured_turns import end_set_by, measured_turns
from service.domain.procedure import Condition, Step
from service.domain.refusals import BadDefinition
from service.domain.travel import Direction, opposite

ENDS: tuple[Direction, Direction] = ("closed", "open")


@dataclass(frozen=True, slots=True)
class EndMargin:
    """One end as set: the back-off in handwheel turns, the true margin and the margin required, in percent of travel.

    `by` is the claim that told the back-off. `required_pct` None: no margin can be advised or computed, for the reason
    given. `enough` None: cannot be said.
    """

    end: Direction
    step: str
    by: str | None
    back_off_turns: float
    lost_motion_turns: float | None
    way: Way
    margin_pct: float | None
    required_pct: float | None
    enough: bool | None
    reason: str


def end_margins(state: JobState) -> tuple[EndMargin, ...]:
    """Return the margin of each end whose back-off was counted and confirmed, closed end first."""
    found = (_of_end(state, end) for end in ENDS)
    return tuple(one for one in found if one is not None)


def _of_end(state: JobState, end: Direction) -> EndMargin | None:
    for step, need in state.pinned.by_intent.get("travel", ()):
        known = state.condition(f"{step.id}/{need.id}")
        if not _asks_for_back_off(need) or end_set_by(state, step) != end or known.status != "met":
            continue
        if isinstance(known.value, int | float):
            return _margin(state, step, end, float(known.value), known.item)
    return None


def _asks_for_back_off(need: Condition) -> bool:
    return need.kind == "value" and need.pattern is not None and "backed_off" in need.pattern.slots.values()


def _margin(state: JobState, step: Step, end: Direction, turns: float, item: str | None) -> EndMargin:
    measured = measured_turns(state)
    lost = measured.lost.get(opposite(end))
    way = _way(state, step, end)
    back_off = measured.pct(turns)
    margin = None
    if back_off is not None and (lost is not None or way == "on_approach"):
        margin = true_margin_pct(way, back_off, measured.pct(lost or 0.0) or 0.0)
    required, reason = _required(state, max(measured.lost.values(), default=None))
    enough = None if margin is None or required is None else margin >= required - 0.05
    if margin is None:
        reason = f"The margin is not known before turns and lost motion were counted. {reason}"
    if turns > _rule(state):
        reason = f"{reason} {_asked(state, turns)}".strip()
    return EndMargin(end, step.id, item, turns, lost, way, margin, required, enough, reason)


def _way(state: JobState, step: Step, end: Direction) -> Way:
    """Return how the end was set: on approach where it was reached moving towards it and that was confirmed."""
    for need in step.needs:
        towards = need.pattern.slots.get("position") if need.pattern else None
        if towards == f"moving_{end}" and state.condition(f"{step.id}/{need.id}").status == "met":
            return "on_approach"
    return "after_backing_off"


def _required(state: JobState, lost_turns: float | None) -> tuple[float | None, str]:
    actuator, measured = state.pinned.actuator, measured_turns(state)
    if actuator is None:
        rule = measured.pct(HALF_A_TURN)
        words = "" if rule is None else f"the common rule of half a turn is {rule:.2f} % of travel; "
        return None, f"The drive's figures are not stated with the job: {words}the coast is not known."
    lost = measured.pct(lost_turns) if lost_turns is not None else None
    if lost is None:
        return None, "Lost motion and turns from stop to stop are counted first."
    try:
        advice = actuator.margin(lost)
    except BadDefinition as refusal:
        return None, refusal.message
    return advice.margin_pct, advice.reason


def _rule(state: JobState) -> float:
    actuator = state.pinned.actuator
    return HALF_A_TURN if actuator is None else actuator.site_rule_turns


def _asked(state: JobState, turns: float) -> str:
    actuator = state.pinned.actuator
    if actuator is None or actuator.scale.handwheel is None:
        return f"{turns:g} turns are more than the rule of {_rule(state):g}. Is so much meant?"
    return question_about_back_off(actuator.scale, turns, actuator.site_rule_turns) or ""
