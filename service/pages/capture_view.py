"""What the technician's page shows of a job: the step in hand, the one question, what became of answers."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any

from service.domain.procedure import Condition, Step
from service.pages.advice_lines import advice_lines
from service.pages.answers import JUDGES, Question, contact_groups, question_on
from service.pages.sentences import disagreement, probability
from service.pages.stroke_lines import stroke_view
from service.pages.travel_lines import counted, is_about_travel, standing
from service.ports import Asker
from service.use_cases.show_capture import Capture

Shown = dict[str, Any]


def capture_view(capture: Capture, asker: Asker, chosen: str | None = None) -> Shown:
    """Return the values of the template; `chosen` picks one of several steps that stand open side by side."""
    job = capture.job
    names = {one["id"]: one["name"] for one in job["people"]}
    step = next((one for one in capture.steps if one.id == chosen), None) or next(iter(capture.steps), None)
    shown: Shown = {
        "view": job,
        "holds": [_hold(hold, names, asker) for hold in job["holds"]],
        "heard": _heard(capture),
        "read_backs": [
            {**one, "words": one["say"] or "what you said"}
            for one in job["read_backs"]
            if one["person"] == asker.person_id
        ],
        "next_seq": capture.next_seq,
        "closing": capture.closing,
        "gap": _gap(job, asker.device_id),
        "colleagues": [
            one for one in job["people"] if "technician" in one["roles"] and one["id"] != asker.person_id
        ],
        "step": None,
    }
    if step is not None:
        shown |= _step(capture, step, asker)
    return {**shown, "mark_of_view": _mark(shown)}


def _step(capture: Capture, step: Step, asker: Asker) -> Shown:
    job = capture.job
    told = next(one for one in job["open_steps"] if one["id"] == step.id)
    findings = _findings(capture, step)
    judged = told["judged"]
    unmet = [need for need in told["needs"] if need["status"] != "met"]
    wants_photo = next((need for need in step.needs if need.kind == "photo" and _unmet(told, need)), None)
    photos = _photos(capture, step)
    disagrees = disagreement(findings, judged)
    question = _question(capture, step, told, photos)
    return {
        "step": told,
        "place": 1 + next(number for number, line in enumerate(job["steps"]) if line["id"] == step.id),
        "others": [one for one in job["open_steps"] if one["id"] != step.id],
        "troubles": [one for one in _troubles(job, told) if question is None or one != question.because],
        "open_count": len(unmet),
        "question": question,
        "lacking": [need["says"] for need in unmet],
        "wants_photo": wants_photo is not None,
        "photo_of": wants_photo.of or "switch" if wants_photo else "switch",
        "photo_says": _photo_says(wants_photo, photos),
        "photo_first": (question is None or question.kind == "wait")
        and all(photo["read"] for photo in photos),
        "photos": photos,
        "unread": _unread(photos, findings),
        "upper_edge": _asks_upper_edge(photos),
        "stands": standing(job["travel"]) if step.checkpoint or is_about_travel(step.needs) else "",
        "counted": counted(job["travel"]),
        "advice": advice_lines(step.needs, told["advice"]),
        "stroke": stroke_view(step, told, job["strokes"]),
        "findings": findings,
        "told_later": step.checkpoint is not None and not findings,
        "disagrees": {**disagrees, "once": _mark(findings)} if disagrees else None,
        "mine": asker.person_id,
    }


def _question(
    capture: Capture, step: Step, told: Mapping[str, Any], photos: Sequence[Shown]
) -> Question | None:
    """Return the first thing of the step that can be answered by words; None where there is none."""
    for need in step.needs:
        if not _unmet(told, need):
            continue
        name = f"{step.id}/{need.id}"
        if need.kind in {"statement", "value"}:
            question = question_on(need, capture.tallies.get(name))
            because = next(one["because"] for one in told["needs"] if one["id"] == need.id)
            void = _status(told, need) == "void"
            return _with(question, because=because if void else "", missed=capture.missed.get(name, ""))
        if need.kind in JUDGES and (need.checkpoint or step.id) == step.id:
            return _contacts(capture, step, need, told, photos)
        if need.kind == "equal":
            return Question("wait", need.says + ".", waits="It follows from values that were given already.")
    return None


def _contacts(
    capture: Capture, step: Step, need: Condition, told: Mapping[str, Any], photos: Sequence[Shown]
) -> Question | None:
    labels = told["judged"] if need.kind == "findings" else [one.label for one in capture.chart.contacts]
    claims: Mapping[str, str] = (_attempt(capture, step) or {}).get("claims") or {}
    missing = contact_groups(capture.chart, [label for label in labels if label not in claims])
    if missing:
        return missing[0]
    here = [photo for photo in photos if photo["newest"]]
    if not here:
        return None
    again = contact_groups(capture.chart, labels)
    if not all(photo["read"] for photo in here):
        return Question("wait", "The photo is being read.", again=again, waits="This takes a few seconds.")
    return Question(
        "wait",
        "Not every contact is agreed.",
        again=again,
        waits="Look below, put right what differs, and answer anew.",
    )


def _findings(capture: Capture, step: Step) -> list[Shown]:
    attempt = _attempt(capture, step)
    told = {one["label"]: one for one in (attempt or {}).get("findings") or ()}
    rows = []
    for rotor in capture.chart.rotors:
        here = [told[one.label] for one in capture.chart.contacts_of(rotor.id) if one.label in told]
        rows += [
            {**one, "first": not number, "p": probability(one["bar_position_as_shown"])}
            for number, one in enumerate(here)
        ]
    return rows


def _attempt(capture: Capture, step: Step) -> Mapping[str, Any] | None:
    there = next((one for one in capture.job["checkpoints"] if one["step"] == step.id), None)
    attempts = there["attempts"] if there else []
    return attempts[-1] if attempts else None


def _photos(capture: Capture, step: Step) -> list[Shown]:
    there = next((one for one in capture.job["checkpoints"] if one["step"] == step.id), None)
    attempts = there["attempts"] if there else []
    photos = [
        _photo(photo, f"attempt {attempt['number']}", newest=attempt is attempts[-1])
        for attempt in attempts
        for photo in attempt["photos"]
    ]
    photos += [_photo(photo, "stored", newest=True) for photo in capture.photos.get(step.id, ())]
    return photos[::-1]


def _photo(photo: Mapping[str, Any], where: str, *, newest: bool) -> Shown:
    became = "read" if photo["read"] else "being read"
    if photo["refused"]:
        became = f"could not be read: {photo['refused']}"
    late = ", came late" if photo["late"] else ""
    return {**photo, "newest": newest, "says": f"{where}{late}, {became}"}


def _unread(photos: Sequence[Shown], findings: Sequence[Shown]) -> Shown | None:
    """Return what the newest photo does not show and why, while a contact of the step is without a reading."""
    newest = next((one for one in photos if one["newest"] and one["read"]), None)
    reasons = (newest or {}).get("unread") or []
    if not reasons or (findings and all(one["reading"] != "none" for one in findings)):
        return None
    return {"says": reasons, "once": newest["item"] if newest else ""}


def _asks_upper_edge(photos: Sequence[Shown]) -> str:
    """Return which edge of the switch to tap in the next photo; empty where the newest told which way up it was."""
    newest = next((one for one in photos if one["newest"] and one["read"]), None)
    return (newest or {}).get("asks_upper_edge") or ""


def _photo_says(need: Condition | None, photos: Sequence[Shown]) -> str:
    if need is not None:
        return need.says[:1].upper() + need.says[1:] + "."
    return (
        "One more photo of the switch." if any(one["newest"] for one in photos) else "A photo of the switch."
    )


def _gap(job: Mapping[str, Any], device: str | None) -> Shown | None:
    """Return how many items of this device wait past a gap, and the last one that is missing before them."""
    waiting = job["pending"].get(device or "")
    return {"waiting": len(waiting), "up_to": min(waiting) - 1} if waiting else None


def _hold(hold: Mapping[str, Any], names: Mapping[str, str], asker: Asker) -> Shown:
    by = names.get(hold["person"] or "", "Somebody")
    return {
        **hold,
        "by": f"By {by}",
        "by_name": by,
        "others": ", ".join(names.get(one, one) for one in hold["may_resume"]),
        "mine": asker.person_id == hold["person"] or asker.person_id in hold["may_resume"],
    }


def _heard(capture: Capture) -> list[Shown]:
    clip = capture.heard
    if clip is None or not (clip.text or clip.refused):
        return []
    confidence = None if clip.confidence is None else f"{clip.confidence:.2f}"
    reason = clip.reason[:1].upper() + clip.reason[1:].rstrip(".") + "." if clip.reason else ""
    return [
        {
            "text": clip.text,
            "refused": clip.refused,
            "reason": reason,
            "confidence": confidence,
            "effect": clip.effect,
        }
    ]


def _troubles(job: Mapping[str, Any], told: Mapping[str, Any]) -> list[str]:
    """Return the newest thing that voided something which this step still lacks; a stroke tells its own."""
    void = [need for need in told["needs"] if need["status"] == "void" and need["kind"] != "stroke"]
    lacking = {f"{told['id']}/{need['id']}" for need in void}
    touching = [one for one in job["troubles"] if lacking & set(one["voided"])]
    if not touching:
        return []
    newest = touching[-1]
    return [newest["reason"] + (" It came late." if newest["late"] else "")]


def _unmet(told: Mapping[str, Any], need: Condition) -> bool:
    return _status(told, need) != "met"


def _status(told: Mapping[str, Any], need: Condition) -> str:
    return next((str(one["status"]) for one in told["needs"] if one["id"] == need.id), "unmet")


def _with(question: Question, **changes: Any) -> Question:  # noqa: ANN401 - fields of a question
    return Question(**{**question.__dict__, **changes})


def _mark(shown: Any) -> str:  # noqa: ANN401 - any values that are shown
    """Return a short mark that differs where something shown differs, so that a page swaps only then."""
    text = json.dumps(shown, default=str, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
