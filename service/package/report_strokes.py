"""Strokes and travel as plain values for the report: marks, times, expectation and judgement; turns and margins."""

from collections.abc import Iterator

from service.domain.end_margin import EndMargin, end_margins
from service.domain.job_state import JobState
from service.domain.measured_turns import measured_turns
from service.domain.stroke_expected import strokes_of
from service.domain.stroke_judged import JudgedStroke, every_stroke
from service.domain.stroke_marks import TimedMark
from service.package.packaged import PackagedJob
from service.package.report_marks import verdict_rule
from service.package.report_values import Part

STANDINGS = {"fits": "fits", "differs": "differs", "cannot_tell": "cannot tell"}
TOPICS = {
    "time": "time",
    "other_direction": "against the other direction",
    "earlier_jobs": "against earlier strokes",
    "stopped_by": "what stopped it",
    "lamps": "lamps",
    "duty": "motor duty",
    "resolution": "what the marks cannot resolve",
}
DIRECTIONS = {"closed": "closing", "open": "opening"}
WAYS = {"on_approach": "on approach", "after_backing_off": "after backing off"}


def strokes_part(job: PackagedJob, state: JobState) -> list[Part]:
    """Return every stroke that was marked or timed, those that no longer count among them."""
    return [
        _stroke(job, state, stroke) for step in strokes_of(state) for stroke in every_stroke(state, step.id)
    ]


def stroke_doubts(state: JobState) -> Iterator[str]:
    """Yield what the report must say first of strokes that are off."""
    for step in strokes_of(state):
        for stroke in every_stroke(state, step.id)[-1:]:
            if stroke.verdict == "differs":
                yield f'"{step.title}", stroke: {" ".join(stroke.differing)}'


def turns_part(state: JobState) -> Part:
    """Return the turns that were counted and the margin of each end that was set."""
    measured = measured_turns(state)
    total = measured.total
    return {
        "total": None if total is None else f"{total:g}",
        "lost": [f"{DIRECTIONS[towards]} {turns:g}" for towards, turns in measured.lost.items()],
        "ends": [_end(one) for one in end_margins(state)],
    }


def _stroke(job: PackagedJob, state: JobState, stroke: JudgedStroke) -> Part:
    released = state.step(stroke.step).released
    differs = stroke.verdict == "differs"
    return {
        "title": state.pinned.procedure.step(stroke.step).title,
        "number": stroke.number,
        "direction": DIRECTIONS[stroke.direction],
        "verdict": stroke.verdict or "not judged",
        "class": "against" if differs else "" if stroke.verdict else "doubt",
        "rule": verdict_rule({"fits": "agreed", "differs": "off-chart"}.get(str(stroke.verdict), "unshown")),
        "lacking": " ".join(stroke.lacking),
        "from": _with_doubt(stroke.from_pct, stroke.from_sigma_pct, "% open"),
        "took": _with_doubt(stroke.took_s, stroke.sigma_s, "s"),
        "stated": "" if stroke.stated_s is None else f"{stroke.stated_s:g} s",
        "expected": _with_doubt(stroke.expected_s, stroke.expected_sigma_s, "s"),
        "stopped_by": stroke.stopped_by or "",
        "reason": released.reason if released and differs else "",
        "marks": [_mark(job, state, stroke, mark) for mark in stroke.run.marks],
        "remarks": [
            {
                "topic": TOPICS.get(remark.topic, remark.topic),
                "standing": STANDINGS[remark.standing],
                "class": {"differs": "against", "cannot_tell": "doubt"}.get(remark.standing, ""),
                "sentence": remark.sentence,
            }
            for remark in stroke.remarks
        ],
    }


def _mark(job: PackagedJob, state: JobState, stroke: JudgedStroke, mark: TimedMark) -> Part:
    start = stroke.run.one("start")
    at = None if start is None else mark.t_s - start.t_s
    return {
        "what": mark.what,
        "at": _with_doubt(at, mark.sigma_s, "s"),
        "how": mark.how,
        "who": ", ".join(job.name(person) for person in mark.persons),
        "entries": ", ".join(str(state.marks[item].seq) for item in mark.items if item in state.marks),
    }


def _end(margin: EndMargin) -> Part:
    percent = {"margin": margin.margin_pct, "required": margin.required_pct}
    words = {None: "cannot be said", True: "enough", False: "not enough"}
    return {
        "end": f"{margin.end} end",
        "back_off": f"{margin.back_off_turns:g} turns, {WAYS[margin.way]}",
        **{name: "" if value is None else f"{value:.2f} %" for name, value in percent.items()},
        "enough": words[margin.enough],
        "class": {True: "", False: "against"}.get(bool(margin.enough))
        if margin.enough is not None
        else "doubt",
        "reason": margin.reason,
    }


def _with_doubt(value: float | None, sigma: float | None, unit: str) -> str:
    """Return a figure with two standard deviations; empty where there is none."""
    if value is None:
        return ""
    doubt = "" if sigma is None else f" \N{PLUS-MINUS SIGN} {2.0 * sigma:.1f}"
    return f"{value:.1f}{doubt} {unit}"
