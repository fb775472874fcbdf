"""Which way to turn the setting shafts of the step at hand, worked out from what the job knows.

Whether a rotor is tripped comes from the newest checkpoint at which every contact of the rotor was both said and
photographed, and both agree; before that nothing is advised, so that nobody is told what to find.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from service.domain.back_off import MarginAdvice
from service.domain.circuits import is_closed
from service.domain.end_margin import end_margins
from service.domain.evidence import reading_of
from service.domain.job_state import Attempt, JobState
from service.domain.measured_turns import end_set_by, measured_turns
from service.domain.observed_senses import handwheel_proofs, shaft_observations
from service.domain.present_travel import present_travel
from service.domain.procedure import Condition, Step
from service.domain.refusals import BadDefinition
from service.domain.setting_advice import Advice, Goal, Situation, advise_rotor, reverse

TOLERANCE_PCT = 0.5
"""How far from its set point a rotor is still set, in percent of travel; more where the place is told less closely."""


@dataclass(frozen=True, slots=True)
class JobAdvice:
    """The advice for one rotor of a setting step, and the checkpoint from which it is known whether it is tripped."""

    advice: Advice
    as_of: str | None


@dataclass(frozen=True, slots=True)
class _Seen:
    tripped: Mapping[str, bool]
    step: str | None


def job_advice(state: JobState, step: Step) -> tuple[JobAdvice, ...]:
    """Return the advice for every rotor that a step sets; empty for a step that sets none."""
    needs = {_rotor_of(state, need): need for need in step.needs if _asks_to_set(need)}
    if not needs:
        return ()
    seen = _newest_seen(state)
    try:
        situation = _situation(state, step, seen)
    except BadDefinition as refusal:
        return tuple(_nothing(rotor, refusal.message, seen) for rotor in needs)
    if situation is None:
        why = f"{present_travel(state).why} Say it first."
        return tuple(_nothing(rotor, why, seen) for rotor in needs)
    return tuple(_of_rotor(state, step, rotor, need, situation, seen) for rotor, need in needs.items())


def _of_rotor(  # noqa: PLR0913 - one rotor with everything that its advice rests on
    state: JobState, step: Step, rotor: str, need: Condition, situation: Situation, seen: _Seen
) -> JobAdvice:
    if state.condition(f"{step.id}/{need.id}").status == "met":
        return _nothing(rotor, f"{rotor} is said to be set here.", seen)
    if rotor not in seen.tripped:
        return _nothing(
            rotor, f"{rotor} is advised on once it was said and photographed, and both agree.", seen
        )
    end = end_set_by(state, step)
    chart, actuator = state.pinned.chart, state.pinned.actuator
    limit = end is not None and getattr(chart, f"{end}_end") == "limit"
    scale = actuator.scale if actuator else None
    advice = advise_rotor(chart.rotor(rotor), situation, scale, limit_seated=limit)
    if advice.turn != "none" and situation.goal == "set_here" and advice.until == "trips" and seen.step:
        title = state.pinned.procedure.step(seen.step).title
        back = f' So it was seen at "{title}". Has it snapped on the way here, turn it {reverse(advice.turn)} until it '
        advice = replace(advice, reason=f"{advice.reason}{back}resets, then come back until it just snaps.")
    return JobAdvice(advice, seen.step)


def _situation(state: JobState, step: Step, seen: _Seen) -> Situation | None:
    """Return what is known while the step's rotors are set; None where the valve's place is not known."""
    known = present_travel(state)
    if known.place is None:
        return None
    goal: Goal = "set_here" if end_set_by(state, step) else "mid_travel"
    return Situation(
        travel=known.place.travel,
        arrived_towards=known.arrived_towards,
        tripped=dict(seen.tripped),
        observations=shaft_observations(state),
        handwheel=handwheel_proofs(state),
        goal=goal,
        mid_travel_shown=_mid_travel_shown(state),
        tolerance_pct=max(TOLERANCE_PCT, 2.0 * known.place.sigma_pct),
        margin=_margin(state, step),
    )


def _margin(state: JobState, step: Step) -> MarginAdvice | None:
    """Return the margin required at the step's end; None where no drive's figures say."""
    end, measured = end_set_by(state, step), measured_turns(state)
    if end is None or state.pinned.actuator is None or not measured.lost:
        return None
    known = next((one for one in end_margins(state) if one.end == end), None)
    return None if known is None else MarginAdvice(known.required_pct, known.reason)


def _mid_travel_shown(state: JobState) -> bool:
    """Return whether a checkpoint that wants both end rotors at rest has passed and stands."""
    return any(
        state.step(step.id).passed is not None
        for step in state.pinned.procedure.steps
        if step.checkpoint is not None
        and step.checkpoint.rotors.get("closed_end") == "at_rest"
        and step.checkpoint.rotors.get("open_end") == "at_rest"
    )


def _newest_seen(state: JobState) -> _Seen:
    """Return which rotors are tripped by the newest checkpoint with claims and a photo that was read."""
    found: list[tuple[int, str, Attempt]] = []
    for step, attempts in state.attempts.items():
        for attempt in attempts:
            read = [state.photos[item].read_seq for item in attempt.photos]
            newest = max((seq for seq in read if seq is not None), default=None)
            if newest is not None and attempt.claims:
                found.append((newest, step, attempt))
    if not found:
        return _Seen({}, None)
    _, step, attempt = max(found, key=lambda one: one[0])
    tripped = {}
    for rotor in state.pinned.chart.rotors:
        known = _tripped(state, attempt, rotor.id)
        if known is not None:
            tripped[rotor.id] = known
    return _Seen(tripped, step)


def _tripped(state: JobState, attempt: Attempt, rotor: str) -> bool | None:
    """Return whether every contact of a rotor, said and seen alike, is as when tripped; None where not all are."""
    contacts = state.pinned.chart.contacts_of(rotor)
    states = []
    for contact in contacts:
        claim, (read, _) = attempt.claims.get(contact.label), reading_of(state, attempt, contact.label)
        if claim is None or claim.state != read:
            return None
        states.append((contact, claim.state == "closed"))
    for tripped in (True, False):
        if states and all(is_closed(contact, tripped=tripped) == closed for contact, closed in states):
            return tripped
    return None


def _asks_to_set(need: Condition) -> bool:
    return need.pattern is not None and need.pattern.intent == "snapped" and "rotor" in need.pattern.slots


def _rotor_of(state: JobState, need: Condition) -> str:
    named = need.pattern.slots["rotor"] if need.pattern else ""
    ids: Iterable[str] = (rotor.id for rotor in state.pinned.chart.rotors)
    return next((one for one in ids if one in {str(named), f"R{named}"}), str(named))


def _nothing(rotor: str, reason: str, seen: _Seen) -> JobAdvice:
    return JobAdvice(Advice(rotor, "none", None, None, reason), seen.step)
