"""Every condition as met, unmet and void, driven through the real transition function: no gate passes without all.

For a step of at most seven conditions every combination of the three states is tried; for a larger one every
combination in which up to two conditions are not met, for all the others met. Each is tried by the entry that would
pass the step, by every person in every mode, with and without a reason, on a state whose earlier steps have passed.
"""

from dataclasses import replace
from functools import cache
from itertools import combinations, product

import pytest

from service.definitions.procedure import shipped_procedures
from service.domain.consequences import follow
from service.domain.entries import NewEntry
from service.domain.job import apply
from service.domain.job_state import ConditionState, Hold, JobState, StepState
from tests.service.domain.jobs import PEOPLE, START, pinned, shipped

STATUSES = ("met", "unmet", "void")
WHOLE = 7
STEPS = [(name, step.id) for name in shipped_procedures() for step in shipped(name).steps]


@cache
def job(procedure):
    """The job with nothing derived, so that a condition is exactly what the search sets it to."""
    bare = replace(pinned(procedure))
    object.__setattr__(bare, "derived", ())
    return bare


def state_at(procedure, step, statuses, **more) -> JobState:
    """A state in which every earlier step has passed and the conditions of this one are as given."""
    here = job(procedure)
    passed = {other.id: StepState(passed=1) for other in steps_before(here.procedure, step)}
    conditions = {
        f"{other.id}/{need.id}": ConditionState("met", 1)
        for other in here.procedure.steps
        if other.id in passed
        for need in other.needs
    }
    conditions |= {
        f"{step}/{need.id}": ConditionState(status, 1)
        for need, status in zip(here.procedure.step(step).needs, statuses, strict=True)
    }
    return JobState(
        here, 9, "head", START.isoformat(), opened=True, conditions=conditions, steps=passed, **more
    )


def steps_before(procedure, step):
    """The steps that come before, those of other lanes of its own group left out: they may come after."""
    place, lane = procedure.places[step], procedure.step(step).lane
    group = place
    while lane is not None and group > 0 and procedure.steps[group - 1].lane is not None:
        group -= 1
    return [
        other for number, other in enumerate(procedure.steps[:place]) if number < group or other.lane == lane
    ]


def combinations_of(count):
    """Every combination to be tried, all met left out."""
    if count <= WHOLE:
        yield from (one for one in product(STATUSES, repeat=count) if set(one) != {"met"})
        return
    for amount in (1, 2):
        for places in combinations(range(count), amount):
            for words in product(("unmet", "void"), repeat=amount):
                tried = ["met"] * count
                for place, word in zip(places, words, strict=True):
                    tried[place] = word
                yield tuple(tried)


def attempts_to_pass(step):
    """Every entry that could pass a step, by everybody in every way."""
    yield NewEntry("step_passed", {"step": step})
    for person, mode, reason in product(PEOPLE, ("independent", "concurrent"), ("", "because I say so")):
        body = {"step": step, "head": "head", "mode": mode, "reason": reason, "fresh_sign_in": True}
        yield NewEntry("hold_point_released", body, person=person)


def passes(state, step, entry) -> bool:
    sealed = entry.sealed(state.last_seq + 1, START.isoformat(), "hash")
    return apply(state, sealed).step(step).passed is not None


@pytest.mark.parametrize(("procedure", "step"), STEPS)
def test_no_combination_of_conditions_passes_a_step_but_all_of_them_met(
    procedure, step, record_property, capsys
):
    count = len(job(procedure).procedure.step(step).needs)
    entries = list(attempts_to_pass(step))
    tried = 0
    for statuses in combinations_of(count):
        state = state_at(procedure, step, statuses)
        assert state.is_open(step)
        tried += 1
        for entry in entries:
            assert not passes(state, step, entry), (statuses, entry)
        assert not any(entry.kind == "step_passed" for entry in follow(state, state))
    assert tried >= 2 * count


def test_the_search_counts_its_states(capsys):
    sizes = [len(job(procedure).procedure.step(step).needs) for procedure, step in STEPS]
    states = sum(sum(1 for _ in combinations_of(size)) for size in sizes)
    ways = len(list(attempts_to_pass("any")))
    print(f"{states} states, {ways} ways to try each, {len(STEPS)} steps")
    assert states >= 2 * sum(sizes)


@pytest.mark.parametrize(("procedure", "step"), STEPS)
def test_with_all_conditions_met_exactly_the_right_person_passes_it(procedure, step):
    gate = job(procedure).procedure.step(step)
    state = state_at(procedure, step, ["met"] * len(gate.needs))
    for entry in attempts_to_pass(step):
        may = (
            entry.kind == "step_passed"
            if not gate.hold_point
            else entry.kind == "hold_point_released"
            and gate.released_by in PEOPLE[entry.person].roles
            and (not gate.independent or entry.body["mode"] == "independent")
        )
        assert passes(state, step, entry) is may, entry


@pytest.mark.parametrize(("procedure", "step"), STEPS)
def test_with_all_conditions_met_nothing_passes_while_stopped_closed_or_on_an_old_head(procedure, step):
    gate = job(procedure).procedure.step(step)
    met = ["met"] * len(gate.needs)
    stopped = state_at(procedure, step, met, holds=(Hold(5, "item", "tess", ""),))
    not_open = replace(state_at(procedure, step, met), opened=False)
    older = replace(state_at(procedure, step, met), head="a newer head")
    for entry in attempts_to_pass(step):
        assert not passes(stopped, step, entry)
        assert not passes(not_open, step, entry)
        if entry.kind == "hold_point_released":
            assert not passes(older, step, entry)


@pytest.mark.parametrize(("procedure", "step"), STEPS)
def test_a_step_whose_forerunner_has_not_passed_never_passes(procedure, step):
    here = job(procedure)
    state = state_at(procedure, step, ["met"] * len(here.procedure.step(step).needs))
    for before in state.steps:
        held = replace(state, steps={**state.steps, before: StepState()})
        if held.is_open(step):
            assert here.procedure.step(before).lane != here.procedure.step(step).lane
            continue
        for entry in attempts_to_pass(step):
            assert not passes(held, step, entry), (before, entry)
