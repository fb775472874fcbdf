"""A valve with its chart and layout in one document says what its files say, and names the part at fault."""

import copy
import json
from pathlib import Path

import pytest

from service.definitions.trade_files import TradeFiles, as_one
from service.domain.refusals import BadDefinition, NotFound

JOBS = Path(__file__).parents[3] / "sample_media/jobs"


def beside(tag):
    return lambda name, _field: (JOBS / tag / name).read_bytes()


def whole(tag="rw-204", name="valve.yaml"):
    return as_one((JOBS / tag / name).read_bytes(), beside(tag))


def read(document):
    return TradeFiles.valve(json.dumps(document).encode())


@pytest.mark.parametrize("tag", ["rw-204", "rw-118", "rw-330"])
def test_one_document_says_what_the_files_say(tag):
    _, by_files = TradeFiles.valve((JOBS / tag / "valve.yaml").read_bytes(), beside(tag))
    _, as_one_document = read(whole(tag))
    assert as_one_document.circuits.named == by_files.circuits.named
    assert as_one_document.circuits.chart.rotors == by_files.circuits.chart.rotors
    assert as_one_document.circuits.chart.contacts == by_files.circuits.chart.contacts
    alone = TradeFiles.wiring(json.dumps(whole(tag, "chart.yaml")).encode())
    assert alone.circuits.named == by_files.circuits.named


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda d: d.update(chart="chart.yaml"), "chart"),
        (lambda d: d["chart"].update(layout="layout.json"), "chart.layout"),
        (lambda d: d["chart"].update(valve="RW-1"), "chart.valve"),
        (lambda d: d["chart"]["rotors"][0].update(trip_pct=-1), "chart.rotors[0].trip_pct"),
        (
            lambda d: d["chart"]["circuits"]["motor"].update(closing="contact 99"),
            "chart.circuits.motor.closing",
        ),
        (lambda d: d["chart"]["layout"]["rotors"][1].pop("bars"), "chart.layout.rotors[1].bars"),
        (
            lambda d: d["chart"]["layout"]["rotors"].append(d["chart"]["layout"]["rotors"][0]),
            "chart.layout.rotors",
        ),
        (lambda d: d["chart"].update(as_found={"R9": 3}), "chart.as_found.R9"),
        (lambda d: d["chart"].update(as_found={"R1": 99.5}), "chart.as_found.R1"),
    ],
)
def test_a_fault_in_a_part_is_named_by_its_whole_path(change, field):
    document = copy.deepcopy(whole())
    change(document)
    with pytest.raises(BadDefinition) as caught:
        read(document)
    assert caught.value.field == field


def test_trip_points_as_found_are_read_beside_the_charts_own():
    document = {**whole(name="chart.yaml"), "as_found": {"R1": 0.4}}
    wiring = TradeFiles.wiring(json.dumps(document).encode())
    assert wiring.as_found.rotor("R1").trip_pct == 0.4
    assert wiring.circuits.chart.rotor("R1").trip_pct == 1.5
    assert TradeFiles.wiring(json.dumps(whole(name="chart.yaml")).encode()).as_found is None


def test_a_schema_that_there_is_not_is_refused_with_those_there_are():
    with pytest.raises(NotFound, match="repeats, valve"):
        TradeFiles.schema("anything")
