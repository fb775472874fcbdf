"""A job that pinned its procedure before strokes were marked goes on by what it pinned."""

import json

import yaml

from service.definitions.procedure import load_procedure, shipped_procedure
from service.domain.expansion import pin_job
from service.domain.job import replay
from service.domain.stroke_judged import judged_stroke
from tests.service.domain.jobs import Rig, pinned, play_all, play_to

TIME = {
    "id": "time",
    "kind": "value",
    "says": "the stroke time",
    "said": {"intent": "measure", "slots": {"quantity": "stroke_time"}},
    "value": {"unit": "s", "least": 0.1},
}

SINCE = ("closing_wheel", "opening_wheel")
"""Needs that came with the marks."""


def older():
    """The default procedure as it was: a stroke time is said, nothing is marked, no hold point at a stroke."""
    document = yaml.safe_load(shipped_procedure("default"))
    for step in document["steps"]:
        step["needs"] = [TIME if need["kind"] == "stroke" else need for need in step["needs"]]
        step["needs"] = [need for need in step["needs"] if need["id"] not in SINCE]
        if step["id"].startswith("stroke_"):
            del step["hold_point"], step["released_by"]
    return load_procedure(json.dumps(document).encode())


def job_on_the_older():
    """The job as it was pinned then."""
    now = pinned("default")
    return pin_job(
        job=now.job,
        site=now.site,
        valve=now.valve,
        chart=now.chart,
        procedure=older(),
        people=now.people,
        pins=now.pins,
    )


def test_a_job_on_the_older_procedure_is_played_to_its_end_and_folds_to_the_same_state():
    rig = play_all(Rig(job_on_the_older()))
    assert rig.state.closed
    folded = replay(rig.state.pinned, rig.entries)
    assert (folded.steps, folded.conditions, folded.head) == (
        rig.state.steps,
        rig.state.conditions,
        rig.state.head,
    )


def test_there_a_mark_is_a_statement_like_any_other():
    rig = play_to(Rig(job_on_the_older()), "stroke_closing")
    item = rig.type("mark", {"at": "start"})
    assert rig.state.claims[item].status == "pending"
    assert not rig.state.marks
    assert judged_stroke(rig.state, "stroke_closing") is None
