"""What a procedure says of itself, and the files that cannot be one."""

import copy
import json
from functools import cache

import pytest
import yaml

from service.definitions.procedure import load_procedure, shipped_procedure, shipped_procedures
from service.domain.expansion import pin_job
from service.domain.pinned import SiteRules, Valve
from service.domain.refusals import BadDefinition, NotFound
from tests.service.domain.jobs import TAG, at, chart, pass_step, pinned, shipped

POWER = "I cannot stop the valve. Keep a hand on a proved stop."
STEPS = [(name, step) for name in shipped_procedures() for step in shipped(name).steps]


def ids(value):
    return getattr(value, "id", value)


@pytest.mark.parametrize(("name", "step"), STEPS, ids=ids)
def test_every_step_is_spoken_in_twelve_words_with_one_reason_and_says_what_it_follows(name, step):
    assert 0 < len(step.say.split()) <= 12
    assert step.why.count(".") == 1
    assert step.practice
    assert step.gives_back
    assert step.stage


@pytest.mark.parametrize(("name", "step"), STEPS, ids=ids)
def test_every_step_under_power_says_first_that_nothing_here_stops_the_valve(name, step):
    if step.under_power:
        assert step.cautions[0] == POWER


@pytest.mark.parametrize("word", ["verified", "valid", "safe", "OK", "dead or"])
def test_no_step_promises_that_anything_is_safe(word):
    for name in shipped_procedures():
        for step in shipped(name).steps:
            spoken = " ".join((step.title, step.say, step.why, step.gives_back, *step.cautions))
            assert word not in spoken.replace(".", " ").split()


def test_the_default_covers_every_part_of_the_job_in_its_order():
    stages = list(dict.fromkeys(step.stage for step in shipped("default").steps))
    assert stages == [
        "prepare",
        "isolate",
        "cover_off",
        "prove_dead",
        "as_found",
        "hand_drive",
        "both_ends_mid",
        "first_end",
        "auxiliary_trips",
        "proof_by_hand",
        "as_left",
        "close_up",
        "restore_power",
        "direction_check",
        "strokes",
        "hand_back",
    ]


def test_five_checkpoints_are_judged_blind():
    needs = shipped("default").step("second_person").needs
    judged = [need.checkpoint for need in needs if need.kind == "judgement"]
    assert judged == ["closed_still", "open_still", "closed_reset", "open_reset", "as_left"]


@pytest.mark.parametrize("end", ["closed", "open"])
def test_a_torque_seated_end_is_refused_by_name(end):
    with pytest.raises(BadDefinition, match=f"The {end} end of {TAG} is torque-seated"):
        pinned(chart=chart(**{f"{end}_end": "torque"}))


def test_a_chart_of_another_valve_is_refused():
    with pytest.raises(BadDefinition, match="chart is for valve"):
        pinned(valve=Valve("XX1"))


def test_every_foreign_circuit_and_every_further_supply_is_to_be_measured():
    valve = Valve(TAG, sources=("power", "control_supply"), other_circuits=("lamp test",))
    needs = pinned(valve=valve).procedure.step("prove_dead").needs
    foreign = {need.says for need in needs if need.id.startswith("foreign_")}
    assert foreign == {
        "closed signal to earth",
        "open signal to earth",
        "heater supply to earth",
        "control supply to earth",
        "lamp test to earth",
    }


def test_what_only_a_flameproof_cover_needs_falls_away_without_one():
    flameproof = pinned("default", valve=Valve(TAG, flameproof=True)).procedure.step("prepare_means").needs
    plain = pinned("default", valve=Valve(TAG)).procedure.step("prepare_means").needs
    assert {need.id for need in flameproof} - {need.id for need in plain} == {
        "meter_approved",
        "lamp_approved",
        "phone_approved",
    }


def test_the_limit_of_the_site_takes_the_place_of_the_procedures():
    job = pinned(rules=SiteRules(limits={"dead_limit_v": 0.5}))
    limits = [need.limits for need in job.procedure.step("prove_dead").needs if need.limits]
    assert {limit.maximum for limit in limits} == {0.5}


def test_the_first_end_may_be_either():
    rig = at("closed_set", "default")
    assert [step.id for step in rig.state.open_steps()] == ["closed_set", "open_set"]
    pass_step(rig, "open_set")
    assert [step.id for step in rig.state.open_steps()] == ["open_gear"]


@cache
def _document():
    return yaml.safe_load(shipped_procedure("one_checkpoint"))


def changed(**changes):
    document = copy.deepcopy(_document())
    for path, value in changes.items():
        where = document
        parts = [int(part) if part.isdigit() else part for part in path.split("__")]
        for part in parts[:-1]:
            where = where[part]
        where[parts[-1]] = value
    return json.dumps(document).encode()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"steps__0__say": " ".join(["word"] * 13)}, "more than twelve words"),
        ({"steps__0__needs": []}, "steps"),
        ({"steps__1__id": "prepare"}, "named twice"),
        ({"steps__1__rests_on": ["done"]}, "does not come before"),
        ({"steps__2__released_by": "nobody"}, "none of"),
        ({"steps__0__hold_point": True}, "who releases it"),
        ({"steps__0__needs__0__kind": "wish"}, "none of"),
        ({"steps__0__needs__0__stands_until": "never"}, "stands until no step"),
        ({"steps__4__needs__0": {"id": "x", "kind": "judgement", "says": "x"}}, "no checkpoint"),
        ({"steps__4__needs__0": {"id": "x", "kind": "statement", "says": "x"}}, "names no statement"),
        ({"steps__4__needs__0": {"id": "x", "kind": "equal", "says": "x"}}, "fewer than two"),
        (
            {"steps__4__needs__0": {"id": "x", "kind": "equal", "says": "x", "equals": ["a/b", "c/d"]}},
            "which there is not",
        ),
        ({"events__0__voids": ["nothing"]}, "no step"),
        ({"steps__0__gate": "moat"}, "no safety gate moat"),
        ({"steps__3__checkpoint__travel_pct": 101}, "at most 100"),
        ({"surprise": 1}, "no such field"),
    ],
)
def test_a_file_that_is_no_procedure_is_refused_with_the_reason(changes, words):
    with pytest.raises(BadDefinition) as refused:
        load_procedure(changed(**changes))
    assert words in str(refused.value)


def test_a_checkpoint_names_only_rotors_of_the_chart():
    procedure = load_procedure(changed(steps__3__checkpoint__rotors={"R9": "at_rest"}))
    with pytest.raises(BadDefinition, match="R9"):
        pin_job(job="j", site="s", valve=Valve(TAG), chart=chart(), procedure=procedure, people={})


def test_a_procedure_that_does_not_ship_is_not_found():
    with pytest.raises(NotFound):
        shipped_procedure("../secrets")
