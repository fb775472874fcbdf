"""What follows from a state, as entries: steps that have passed, findings made, gates held, the job closed."""

from dataclasses import asdict

from service.domain.derived import stroke_rests_on_other
from service.domain.end_margin import EndMargin, end_margins
from service.domain.entries import NewEntry
from service.domain.evidence import findings
from service.domain.findings import Finding
from service.domain.gates import why_not_passed
from service.domain.job_state import JobState
from service.domain.procedure import Step
from service.domain.stroke_expected import strokes_of
from service.domain.stroke_judged import JudgedStroke, judged_stroke


def follow(before: JobState, after: JobState) -> tuple[NewEntry, ...]:
    """Return the entries that follow from the way from one state to another; at most one step passes at a time."""
    found = [*_held(before, after), *_found(before, after), *_worked_out(before, after)]
    if found:
        return tuple(found)
    for step in after.open_steps():
        if why_not_passed(after, step) is None:
            return (_passed(after, step),)
    if after.closed and not before.closed:
        return (NewEntry("job_closed", {"step": after.pinned.procedure.steps[-1].id}),)
    return ()


def _passed(state: JobState, step: Step) -> NewEntry:
    names = [f"{step.id}/{need.id}" for need in step.needs]
    return NewEntry(
        "step_passed", {"step": step.id, "rests_on": {name: state.condition(name).by for name in names}}
    )


def _held(before: JobState, after: JobState) -> list[NewEntry]:
    current = after.current
    held = [
        NewEntry(
            "gate_held",
            {
                "because": trouble.item,
                "reason": trouble.reason,
                "step": current.id if current else None,
                "voided": list(trouble.voided),
                "late": trouble.late,
            },
        )
        for trouble in after.troubles[len(before.troubles) :]
    ]
    stops = [hold for hold in after.holds if hold not in before.holds]
    return held + [
        NewEntry(
            "gate_held",
            {
                "because": hold.item,
                "reason": hold.reason or "Work is stopped.",
                "step": current.id if current else None,
                "voided": [],
                "late": False,
            },
        )
        for hold in stops
    ]


def _found(before: JobState, after: JobState) -> list[NewEntry]:
    """Return the findings that are new and rest on both a claim (or denial) and a reading."""
    made: list[NewEntry] = []
    for step, attempts in after.attempts.items():
        if before.attempts.get(step) is attempts and before.photos is after.photos:
            continue
        earlier = (
            {one.label: one for one in findings(before, step, len(attempts))}
            if _same(before, step, attempts)
            else {}
        )
        made += [
            _entry(step, attempts[-1].number, finding)
            for finding in findings(after, step)
            if finding != earlier.get(finding.label) and _is_told(finding)
        ]
    return made


def _worked_out(before: JobState, after: JobState) -> list[NewEntry]:
    """Return the strokes newly judged, and the margins newly known."""
    made: list[NewEntry] = []
    for step in strokes_of(after):
        if not stroke_rests_on_other(before, after, step):
            continue
        judged = judged_stroke(after, step.id)
        if judged is not None and judged.verdict is not None and judged != judged_stroke(before, step.id):
            made.append(_judged(judged))
    if before.conditions is not after.conditions:
        known = set(end_margins(before))
        made += [_margin(one) for one in end_margins(after) if one not in known]
    return made


def _margin(margin: EndMargin) -> NewEntry:
    shown = {"margin_pct": _rounded(margin.margin_pct), "required_pct": _rounded(margin.required_pct)}
    return NewEntry("margin_computed", {**asdict(margin), **shown})


def _judged(stroke: JudgedStroke) -> NewEntry:
    start = stroke.run.one("start")
    return NewEntry(
        "stroke_judged",
        {
            "step": stroke.step,
            "number": stroke.number,
            "direction": stroke.direction,
            "marks": [
                {
                    "what": mark.what,
                    "t_s": round(mark.t_s - start.t_s, 3) if start else None,
                    "sigma_s": round(mark.sigma_s, 3),
                    "how": mark.how,
                    "items": list(mark.items),
                }
                for mark in stroke.run.marks
            ],
            "took_s": _rounded(stroke.took_s),
            "sigma_s": _rounded(stroke.sigma_s),
            "expected_s": _rounded(stroke.expected_s),
            "expected_sigma_s": _rounded(stroke.expected_sigma_s),
            "from_pct": _rounded(stroke.from_pct),
            "from_sigma_pct": _rounded(stroke.from_sigma_pct),
            "stopped_by": stroke.stopped_by,
            "verdict": stroke.verdict,
            "remarks": [asdict(remark) for remark in stroke.remarks],
        },
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _same(before: JobState, step: str, attempts: tuple[object, ...]) -> bool:
    return len(before.attempts.get(step, ())) == len(attempts)


def _is_told(finding: Finding) -> bool:
    return (finding.claim != "none" or finding.denied is not None) and finding.reading != "none"


def _entry(step: str, attempt: int, finding: Finding) -> NewEntry:
    return NewEntry(
        "finding_made",
        {
            "step": step,
            "attempt": attempt,
            "label": finding.label,
            "claim": finding.claim,
            "denied": finding.denied,
            "reading": finding.reading,
            "expected": finding.expected,
            "verdict": finding.verdict,
            "reasons": list(finding.reasons),
            "p": finding.bar_position_as_shown,
            "changed_after_reading": finding.changed_after_reading,
        },
    )
