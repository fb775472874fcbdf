"""When a statement meets a condition, when it contradicts one, and which conditions it can touch."""

from collections.abc import Iterator
from datetime import timedelta

from service.domain.instants import instant
from service.domain.job_state import ConditionState, JobState
from service.domain.people import Role
from service.domain.procedure import END, Condition, Step
from service.domain.statements import Pattern, Statement, fits, may_both_be, same_subject, subject


def meets(need: Condition, statement: Statement) -> bool:
    """Return whether a statement says what a condition wants, its value inside the limits and in the unit asked."""
    if need.pattern is None or not fits(need.pattern, statement):
        return False
    return why_outside(need, statement) is None


def why_not_taking_part(state: JobState, person: str | None, role: Role | None) -> str | None:
    """Return why what a person made cannot count as part of the work, in words; None where it can."""
    known = state.pinned.person(person)
    if known is None or not known.roles:
        return "Whoever made it is not named in the job."
    if known.id in state.judged:
        return "Whoever made it has judged in this job and cannot take part in it."
    if role is not None and role not in known.roles:
        return f"Only a {role} of this job can say or show it."
    return None


def denies(need: Condition, statement: Statement) -> bool:
    """Return whether a statement on a condition's subject says something else, and not merely less.

    "Setting gear engaged" says less than "gear is in, shaft will not turn", and contradicts nothing of it.
    """
    if need.pattern is None:
        return False
    if statement.negated:
        return True
    if any(
        key in statement.slots and not may_both_be(statement.slots[key], value)
        for key, value in need.pattern.slots.items()
    ):
        return True
    limits = need.limits
    return limits is not None and limits.slot in statement.slots and why_outside(need, statement) is not None


def why_outside(need: Condition, statement: Statement) -> str | None:
    """Return why a statement does not meet the limits of a condition, in words; None where it does."""
    limits = need.limits
    if limits is None:
        return None
    if limits.expires and instant(str(statement.slots.get("until", ""))) is None:
        return "it was not said until when it holds"
    if need.kind != "value":
        return None
    value = statement.slots.get(limits.slot)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return "no number was said"
    if limits.unit is not None and statement.slots.get("unit") != limits.unit:
        return f"the unit is {statement.slots.get('unit') or 'missing'}, not {limits.unit}"
    if limits.minimum is not None and not value >= limits.minimum:
        return f"{value:g} is below {limits.minimum:g}"
    if limits.maximum is not None and not value <= limits.maximum:
        return f"{value:g} is above {limits.maximum:g}"
    return None


def expiry(need: Condition, statement: Statement, received: str) -> str | None:
    """Return until when a statement holds: what was said, or so many minutes after it was received; None: no end."""
    if need.limits is None:
        return None
    until = statement.slots.get("until")
    if need.limits.expires and isinstance(until, str):
        return until
    now = instant(received)
    if need.limits.holds_min is None or now is None:
        return None
    return (now + timedelta(minutes=need.limits.holds_min)).isoformat()


def touching(state: JobState, statement: Statement) -> Iterator[tuple[Step, Condition, str]]:
    """Yield the conditions on the subject of a statement, each with its step and full name."""
    for step, need in state.pinned.by_intent.get(statement.intent, ()):
        if need.pattern is not None and same_subject(need.pattern, statement):
            yield step, need, f"{step.id}/{need.id}"


def stands(state: JobState, step: Step, need: Condition) -> bool:
    """Return whether a met condition of a passed step still stands, so that a contradiction of it acts."""
    if need.stands_until is None or state.step(step.id).passed is None:
        return False
    if need.stands_until == END:
        return True
    until = state.step(need.stands_until)
    return until.passed is None and not state.is_open(need.stands_until)


def may_stand(state: JobState, pattern: Pattern) -> bool:
    """Return whether the pattern may hold by what was last said; doubt counts as yes (for what restricts)."""
    said = state.facts.get(subject(pattern.intent, pattern.slots), ())
    return any(fits(pattern, fact.statement) or fact.statement.negated for fact in said)


def surely_stands(state: JobState, pattern: Pattern) -> bool:
    """Return whether the pattern holds by what was last said and confirmed, without doubt (for what permits)."""
    said = state.facts.get(subject(pattern.intent, pattern.slots), ())
    return any(fact.confirmed for fact in said) and all(fits(pattern, fact.statement) for fact in said)


def same_value(need: Condition, before: ConditionState, statement: Statement) -> bool:
    """Return whether a statement carries the value that the condition was met with."""
    slot = need.limits.slot if need.limits else "value"
    return before.value is None or statement.slots.get(slot, before.value) == before.value
