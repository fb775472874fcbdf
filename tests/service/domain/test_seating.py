"""Procedures for an end seated by torque: what must stop it, what sends the job back, and for which valve."""

import copy
import json
from dataclasses import replace
from pathlib import Path

import pytest
import yaml

from service.definitions.chart import load_chart
from service.definitions.layout import load_layout
from service.definitions.procedure import load_procedure, shipped_procedure
from service.domain.pinned import Valve
from service.domain.refusals import BadDefinition
from service.domain.safety_gates import GATES, WAYS_BACK, Need
from service.domain.seating import need_at, ways_back_at
from tests.service.domain.jobs import chart, pinned, shipped

TORQUE_CLOSING = {"closed": "torque", "open": "limit"}
DOCUMENT = yaml.safe_load(shipped_procedure("torque_seated_gate"))


def loaded(change):
    document = copy.deepcopy(DOCUMENT)
    change(document)
    return load_procedure(json.dumps(document).encode())


def step(document, identifier):
    return next(entry for entry in document["steps"] if entry["id"] == identifier)


@pytest.mark.outside(
    source="common practice, no source: a torque-seated end stops closing on the torque switch (P7)",
    confidence="P",
)
def test_the_closing_stroke_of_a_torque_seated_gate_is_stopped_by_torque():
    stopped = shipped("torque_seated_gate").step("stroke_closing").condition("stopped_by").pattern
    assert (stopped.slots["cause"], stopped.slots["travel"]) == ("torque", "closing")
    with pytest.raises(BadDefinition, match="stroke_closing lacks what it must need: tripped on torque"):
        loaded(lambda d: step(d, "stroke_closing")["needs"][1]["said"]["slots"].update(cause="limit"))


@pytest.mark.outside(
    source="common practice, no source: opening is stopped by the limit, a torque trip is an anomaly (P9)",
    confidence="P",
)
def test_the_opening_stroke_is_stopped_by_the_limit_and_torque_there_sends_the_job_back():
    with pytest.raises(BadDefinition, match="stroke_opening lacks what it must need: tripped on limit"):
        loaded(lambda d: step(d, "stroke_opening")["needs"][1]["said"]["slots"].update(cause="torque"))
    for event in ("torque_stop", "limit_stop"):
        with pytest.raises(BadDefinition, match=f"way back {event} is missing"):
            loaded(lambda d, gone=event: d.update(events=[e for e in d["events"] if e["id"] != gone]))


@pytest.mark.parametrize(
    ("procedure", "closed_end", "words"),
    [
        ("default", "torque", "is torque-seated; procedure default is for an end that is limit-seated"),
        ("quarter_turn", "torque", "is torque-seated; procedure quarter_turn is for"),
        ("torque_seated_gate", "limit", "is limit-seated; procedure torque_seated_gate is for"),
    ],
)
def test_a_procedure_for_another_seating_is_refused_by_name(procedure, closed_end, words):
    with pytest.raises(BadDefinition, match=words):
        pinned(procedure, chart=replace(chart(), closed_end=closed_end))


def test_a_valve_of_its_own_seating_is_taken():
    assert pinned("torque_seated_gate").procedure.seats == TORQUE_CLOSING


def test_at_a_limit_seated_end_every_gate_and_way_back_stays_as_it_is():
    limit = {"closed": "limit", "open": "limit"}
    assert all(need_at(need, limit) is need for gate in GATES for need in gate.needs)
    assert ways_back_at(WAYS_BACK, limit) == WAYS_BACK


def test_only_what_stops_the_seated_end_changes():
    need = Need("statement", "tripped on limit, opening", "trip", {"cause": "limit", "travel": "opening"})
    assert need_at(need, TORQUE_CLOSING) is need
    changed = {way.id for way in ways_back_at(WAYS_BACK, TORQUE_CLOSING)} - {way.id for way in WAYS_BACK}
    assert changed == {"limit_stop"}


@pytest.mark.outside(
    source="common practice, no source: the first stroke goes away from the end set last (P26)",
    confidence="P",
)
def test_on_a_quarter_turn_valve_the_open_end_comes_first_and_the_first_stroke_goes_to_open():
    places = shipped("quarter_turn").places
    assert places["seat_position"] < places["open_set"] < places["open_reset"] < places["closed_set"]
    assert places["closed_set"] < places["stop_clearance"] < places["proof_by_hand"]
    assert places["direction_check"] < places["stroke_opening"] < places["tenth_closing"]


@pytest.mark.parametrize(("tag", "procedure"), [("rw-118", "quarter_turn"), ("rw-330", "torque_seated_gate")])
def test_the_sample_valves_are_pinned_with_the_procedure_made_for_them(tag, procedure):
    folder = Path(__file__).parents[3] / "sample_media/jobs" / tag
    layout = load_layout((folder / "layout.json").read_bytes())
    read = load_chart((folder / "chart.yaml").read_bytes(), layout)
    job = pinned(procedure, chart=read, valve=Valve(read.valve, sources=("power",)))
    assert job.procedure.id == procedure
    states = job.expected["closed_still"]
    breaks_at_closed = "4" if tag == "rw-118" else "10"
    assert states[breaks_at_closed] == "open"
