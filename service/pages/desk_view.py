"""What the second person's page shows of one step: first the photo alone, after judging all side by side."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from service.domain.chart import ContactChart
from service.pages.drawing import plan_of
from service.pages.sentences import disagreement, probability
from service.ports import Asker
from service.use_cases.show_drawing import Drawing

Shown = dict[str, Any]


def desk_view(step: Mapping[str, Any], drawing: Drawing, asker: Asker) -> Shown:
    """Return the values of the template for one step at the desk."""
    attempts = step["attempts"]
    newest = attempts[-1] if attempts else None
    mine = _own(newest, asker)
    findings = _rows(newest, drawing.chart, mine)
    shown: Shown = {
        "view": step,
        "newest": newest,
        "photos": list(reversed(newest["photos"])) if newest else [],
        "earlier": [_earlier(one) for one in attempts[:-1]],
        "mine": mine,
        "may_judge": "verifier" in drawing.roles,
        "at_checkpoint": step["detail"]["checkpoint"] is not None,
        "lacking": [drawing.needs.get(name, name) for name in step["lacking"]],
        "findings": findings,
        "disagrees": disagreement(findings, step["detail"]["judged"]) if findings else None,
        "reason_needed": any(
            one["verdict"] != "agreed" for one in findings if one["label"] in step["detail"]["judged"]
        ),
        "rotors": _rotors(drawing.chart, step["detail"]["judged"]),
        "plan": plan_of(drawing.layout, drawing.chart),
        "chart": drawing.chart,
        "is_open": step["step"] in drawing.open_steps,
        "to_judge": drawing.judged_by.get(step["step"], ()),
        "place": drawing.places[step["step"]],
    }
    text = json.dumps({**step, "changed": ""}, default=str, sort_keys=True)
    return {**shown, "mark_of_view": hashlib.sha256(text.encode()).hexdigest()[:16]}


def _own(attempt: Mapping[str, Any] | None, asker: Asker) -> Mapping[str, Any] | None:
    """Return the newest judgement of this person in an attempt; None before it."""
    given = (attempt or {}).get("judgements") or ()
    return next((one for one in reversed(given) if one["person"] == asker.person_id), None)


def _rows(
    attempt: Mapping[str, Any] | None, chart: ContactChart, mine: Mapping[str, Any] | None
) -> list[Shown]:
    told = {one["label"]: one for one in (attempt or {}).get("findings") or ()}
    rows = []
    for rotor in chart.rotors:
        here = [told[one.label] for one in chart.contacts_of(rotor.id) if one.label in told]
        rows += [
            {
                **one,
                "first": not number,
                "p": probability(one["bar_position_as_shown"]),
                "required": (mine or {}).get("required", {}).get(one["label"]),
                "seen": (mine or {}).get("seen", {}).get(one["label"]),
            }
            for number, one in enumerate(here)
        ]
    return rows


def _rotors(chart: ContactChart, judged: list[str]) -> list[Shown]:
    """Return the rotors to be judged, with what each contact is at rest and tripped at any checkpoint."""
    wanted = set(judged)
    rotors = []
    for rotor in chart.rotors:
        here = [one for one in chart.contacts_of(rotor.id) if one.label in wanted]
        if here:
            at_rest = {one.label: "open" if one.action == "makes" else "closed" for one in here}
            tripped = {one.label: "closed" if one.action == "makes" else "open" for one in here}
            rotors.append({"id": rotor.id, "rotor": rotor, "at_rest": at_rest, "tripped": tripped})
    return rotors


def _earlier(attempt: Mapping[str, Any]) -> Shown:
    return {"number": attempt["number"], "ended": attempt["ended"], "photos": attempt["photos"]}
