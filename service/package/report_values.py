"""Small values that the parts of the report are made of; what an entry holds is read with care."""

from collections.abc import Mapping
from typing import Any

from service.domain.job_state import JobState
from service.domain.procedure import Condition, Step
from service.package.packaged import PackagedJob
from service.package.report_clocks import to_the_second

Part = dict[str, Any]
"""One thing that the report shows, as JSON values."""


def mapping(value: object) -> Mapping[str, Any]:
    """Return the value if it is a mapping, else an empty one."""
    return value if isinstance(value, Mapping) else {}


def figure(value: object, digits: int) -> str | None:
    """Return a number with that many digits after the point; None where there is no number."""
    return f"{value:.{digits}f}" if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def plain(value: object) -> str:
    """Return a slot's value in words."""
    if isinstance(value, (list, tuple)):
        return ", ".join(plain(one) for one in value)
    return str(value).replace("_", " ")


def step_part(job: PackagedJob, state: JobState, step: Step) -> Part:
    """Return one step with when it passed and who released it."""
    known = state.step(step.id)
    released = known.released
    passed = None if known.passed is None else to_the_second(job.entries[known.passed].received)
    return {
        "title": step.title,
        "hold_point": step.hold_point,
        "needs": [_need(job, state, step, need) for need in step.needs],
        "passed": passed,
        "by": job.name(released.person) if released else None,
        "mode": released.mode if released else None,
        "reason": released.reason if released else None,
        "waived": dict(released.waived) if released else {},
        "saw": job.entries[released.seq].body.get("head") if released else None,
    }


def _need(job: PackagedJob, state: JobState, step: Step, need: Condition) -> Part:
    """Return one condition of a step: what was needed, whether it is met, its value, by whom and where."""
    found = state.condition(f"{step.id}/{need.id}")
    unit = need.limits.unit if need.limits and need.limits.unit else ""
    value = "" if found.value is None else f"{plain(found.value)} {unit}".strip()
    return {
        "says": need.says,
        "status": found.status,
        "value": value,
        "who": job.name(found.person) if found.person else "",
        "entry": found.by,
        "because": found.because,
    }
