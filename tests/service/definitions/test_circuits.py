"""Circuits in a chart file: unknown contacts, loops and dangers, each at its field."""

import copy
from pathlib import Path

import pytest
import yaml

from service.definitions.chart import load_chart, load_wiring
from service.definitions.layout import load_layout
from service.domain.circuit_report import stop_of
from service.domain.refusals import BadDefinition

JOB = Path(__file__).parents[3] / "sample_media/jobs/rw-204"
DOCUMENT = yaml.safe_load((JOB / "chart.yaml").read_text())
BRIDGED_AT_ITS_SEAT = "command close and contact 9 and (torque closing or contact 2D)"
LAYOUT = load_layout((JOB / "layout.json").read_bytes())


def dumped(change=lambda _document: None) -> bytes:
    document = copy.deepcopy(DOCUMENT)
    change(document)
    return yaml.safe_dump(document).encode()


def test_without_circuits_the_chart_implies_its_stops():
    circuits = load_wiring(dumped(lambda d: d.pop("circuits")), LAYOUT)
    assert stop_of(circuits, "closed").contacts == ("9",)
    assert circuits.lamps == ()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda d: d["circuits"].pop("motor"), "circuits.motor"),
        (lambda d: d["circuits"]["motor"].pop("opening"), "circuits.motor.opening"),
        (lambda d: d["circuits"]["motor"].update(closing="contact 9 and"), "circuits.motor.closing"),
        (
            lambda d: d["circuits"]["motor"].update(closing="contact 99 and contact 9"),
            "circuits.motor.closing",
        ),
        (lambda d: d["circuits"]["motor"].update(closing="command close"), "circuits.motor.closing"),
        (lambda d: d["circuits"]["lamps"]["red"].update(lit_when="lamp red"), "circuits.lamps.red.lit_when"),
        (
            lambda d: d["circuits"]["lamps"]["red"].update(lit_when="signal none"),
            "circuits.lamps.red.lit_when",
        ),
        (lambda d: d["circuits"]["lamps"]["red"].pop("lit_when"), "circuits.lamps.red.lit_when"),
        (lambda d: d["circuits"]["shows"].update(closed="lamp"), "circuits.shows.closed"),
    ],
)
def test_spoilt_circuits_name_the_field_and_load_for_no_purpose(change, field):
    for purpose in ("to_set", "as_found"):
        with pytest.raises(BadDefinition) as caught:
            load_chart(dumped(change), LAYOUT, purpose=purpose)
        assert caught.value.field == field


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda d: d["circuits"]["motor"].update(closing=BRIDGED_AT_ITS_SEAT), "circuits.motor.closing"),
        (lambda d: d["circuits"]["lamps"]["red"].update(lit_when="not contact 2D"), "circuits.shows.closed"),
        (lambda d: d["ends"].update(closed="torque"), "circuits.motor.closing"),
    ],
)
def test_dangerous_circuits_load_as_found_and_not_to_set(change, field):
    assert load_chart(dumped(change), LAYOUT, purpose="as_found").valve == "RW-204"
    with pytest.raises(BadDefinition, match="only recorded as found") as caught:
        load_chart(dumped(change), LAYOUT)
    assert caught.value.field == field
