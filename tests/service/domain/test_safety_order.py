"""A procedure file that removes, weakens or reorders a safety gate is refused, and the gate is named."""

import copy
import json
from functools import cache

import pytest
import yaml

from service.definitions.procedure import (
    _condition,
    _event,
    load_procedure,
    shipped_procedure,
    shipped_procedures,
)
from service.domain.refusals import BadDefinition
from service.domain.safety_gates import GATES
from service.domain.safety_order import _holds, _is_way, gates_of, ways_back_of


@cache
def _document(name):
    return yaml.safe_load(shipped_procedure(name))


def document(name="default"):
    return copy.deepcopy(_document(name))


def load(changed):
    return load_procedure(json.dumps(changed).encode())


def place_of(changed, gate):
    return next(place for place, step in enumerate(changed["steps"]) if step.get("gate") == gate)


def without_mentions(changed, gone):
    """Take every mention of steps that are gone out of the document, so that only the gate's absence is left."""
    for step in changed["steps"]:
        step["rests_on"] = [name for name in step.get("rests_on", []) if name not in gone]
        step["needs"] = [
            need
            for need in step["needs"]
            if need.get("checkpoint") not in gone
            and (need.get("same_person_as") or "/").split("/")[0] not in gone
            and not any(name.split("/")[0] in gone for name in need.get("equals", []))
        ]
        for need in step["needs"]:
            if need.get("stands_until") in gone:
                need["stands_until"] = "end"
    for event in changed.get("events", []):
        event["voids"] = [name for name in event["voids"] if name not in gone]
        for key in ("after", "until"):
            if event.get(key) in gone:
                del event[key]
    changed["events"] = [event for event in changed["events"] if event["voids"]]
    return changed


@pytest.mark.parametrize("name", shipped_procedures())
def test_every_shipped_procedure_keeps_the_safety_order(name):
    procedure = load(document(name))
    assert {gate.name for gate in gates_of(procedure.extent)} <= {step.gate for step in procedure.steps}


@pytest.mark.parametrize("gate", [gate.name for gate in GATES])
def test_a_procedure_without_a_gate_is_refused_by_name(gate):
    changed = document()
    gone = changed["steps"].pop(place_of(changed, gate))["id"]
    with pytest.raises(BadDefinition, match=f"safety gate {gate} is missing"):
        load(without_mentions(changed, {gone}))


@pytest.mark.parametrize("gate", [gate.name for gate in GATES])
def test_a_step_that_no_longer_says_which_gate_it_is_is_refused(gate):
    changed = document()
    del changed["steps"][place_of(changed, gate)]["gate"]
    with pytest.raises(BadDefinition, match=f"safety gate {gate} is missing"):
        load(changed)


PAIRS = [(gate.name, before) for gate in GATES for before in gate.after]


@pytest.mark.outside(source="29 CFR 1910.147(d)(1)-(6) and NFPA 70E (2018) 120.5: done in the order given")
@pytest.mark.parametrize(("gate", "before"), PAIRS)
def test_a_procedure_with_gates_in_another_order_is_refused_by_name(gate, before):
    changed = document()
    for step in changed["steps"]:
        step["rests_on"] = []
        step.pop("lane", None)
    steps = changed["steps"]
    moved = steps.pop(place_of(changed, gate))
    steps.insert(place_of(changed, before), moved)
    with pytest.raises(BadDefinition) as refused:
        load(changed)
    assert (
        "safety gate" in str(refused.value) or "names" in str(refused.value) or "judges" in str(refused.value)
    )


NEEDS = [(gate, number) for gate in GATES for number in range(len(gate.needs))]


@pytest.mark.parametrize(("gate", "number"), NEEDS, ids=lambda value: getattr(value, "name", value))
def test_a_gate_that_lacks_one_of_its_needs_is_refused_by_name(gate, number):
    changed = document()
    step = changed["steps"][place_of(changed, gate.name)]
    kept = [need for need in step["needs"] if not _holds(gate.needs[number], _condition(need))]
    assert len(kept) < len(step["needs"])
    dropped = {f"{step['id']}/{need['id']}" for need in step["needs"] if need not in kept}
    step["needs"] = kept or [
        {"id": "nothing", "kind": "statement", "says": "x", "said": {"intent": "nothing"}}
    ]
    for other in changed["steps"]:
        other["needs"] = [
            need
            for need in other["needs"]
            if need.get("same_person_as") not in dropped and not dropped & set(need.get("equals", []))
        ]
    with pytest.raises(BadDefinition, match=r"safety gate|lets .* be judged"):
        load(changed)


@pytest.mark.parametrize("gate", [gate for gate in GATES if gate.released_by], ids=lambda gate: gate.name)
def test_a_gate_released_by_somebody_else_is_refused(gate):
    changed = document()
    changed["steps"][place_of(changed, gate.name)]["released_by"] = "engineer"
    with pytest.raises(BadDefinition, match=f"safety gate {gate.name} is released by"):
        load(changed)


def test_a_release_that_is_no_longer_independent_is_refused():
    changed = document()
    changed["steps"][place_of(changed, "release")]["independent"] = False
    with pytest.raises(BadDefinition, match="an independent verifier"):
        load(changed)


@pytest.mark.parametrize("way", ways_back_of("whole"), ids=lambda way: way.id)
def test_a_procedure_without_a_way_back_is_refused_by_name(way):
    changed = document()
    changed["events"] = [event for event in changed["events"] if not _is_way(way, _event(event))]
    with pytest.raises(BadDefinition, match="way back"):
        load(changed)


@pytest.mark.parametrize("way", ways_back_of("whole"), ids=lambda way: way.id)
def test_a_way_back_that_voids_too_little_is_refused(way):
    changed = document()
    for event in changed["events"]:
        if _is_way(way, _event(event)):
            event["voids"] = ["hand_back"]
    with pytest.raises(BadDefinition, match="way back"):
        load(changed)


@pytest.mark.parametrize(
    ("gate", "change"),
    [
        ("prove_dead", {"most": 400}),
        ("direction_check", {"least": 0}),
        ("direction_check", {"most": 100}),
        ("tenth_closing", {"least": 0}),
        ("tenth_opening", {"most": 100}),
    ],
)
def test_a_gate_with_wider_limits_is_refused(gate, change):
    changed = document()
    for need in changed["steps"][place_of(changed, gate)]["needs"]:
        if need["kind"] == "value":
            need["value"].update(change)
    with pytest.raises(BadDefinition, match=f"safety gate {gate} lacks"):
        load(changed)


def test_a_site_may_add_a_step_and_a_need_of_its_own():
    changed = document()
    added = copy.deepcopy(changed["steps"][3])
    added.update(
        id="site_briefing", needs=[dict(added["needs"][0], id="briefing", said={"intent": "briefing"})]
    )
    changed["steps"].insert(2, added)
    changed["steps"][1]["needs"].append(
        {"id": "watch", "kind": "statement", "says": "a watch is posted", "said": {"intent": "watch"}}
    )
    assert len(load(changed).steps) == len(document()["steps"]) + 1


def test_a_site_may_reorder_what_is_no_gate():
    changed = document()
    steps = changed["steps"]
    means = next(place for place, step in enumerate(steps) if step["id"] == "prepare_means")
    steps[means], steps[means + 1] = steps[means + 1], steps[means]
    assert load(changed).steps[means].id == "prepare_site"


def test_a_stroke_that_is_judged_belongs_to_a_step_that_asks_what_stopped_it():
    changed = document()
    step = changed["steps"][place_of(changed, "tenth_closing")]
    step["needs"].append({"id": "stroke", "kind": "stroke", "says": "the stroke marked"})
    with pytest.raises(BadDefinition, match="Step tenth_closing has a stroke judged without asking"):
        load(changed)
