"""Chart files: the sample, the two ways to write one, and what is refused with its field."""

import copy
from pathlib import Path

import pytest
import yaml

from service.definitions.chart import load_chart
from service.definitions.layout import load_layout
from service.domain.chart_table import table_of
from service.domain.expected import along_at_checkpoint
from service.domain.refusals import BadDefinition

JOB = Path(__file__).parents[3] / "sample_media/jobs/rw-204"
DOCUMENT = yaml.safe_load((JOB / "chart.yaml").read_text())


@pytest.fixture(scope="module")
def layout():
    return load_layout((JOB / "layout.json").read_bytes())


@pytest.fixture
def document():
    return copy.deepcopy(DOCUMENT)


def dumped(document) -> bytes:
    return yaml.safe_dump(document).encode()


def test_the_sample_chart_loads_and_fits_what_its_photos_show(layout):
    chart = load_chart((JOB / "chart.yaml").read_bytes(), layout)
    at_closed = {"R1": "just_tripped", "R2": "at_rest", "R3": "still_tripped"}
    assert along_at_checkpoint(chart, at_closed) == {"R1": "upper", "R2": "lower", "R3": "upper"}
    assert chart.layout_file == "layout.json"


def test_a_chart_written_as_a_table_is_the_same_chart(layout, document):
    chart = load_chart(dumped(document), layout)
    table = table_of(chart)
    document["table"] = {
        "zones_pct": list(table.zones_pct),
        "rows": {k: list(v) for k, v in table.rows.items()},
    }
    for rotor in document["rotors"]:
        del rotor["trip_pct"]
    for contact in document["contacts"]:
        del contact["action"]
    assert load_chart(dumped(document), layout) == chart


def test_table_and_trip_points_that_differ_are_refused(layout, document):
    table = table_of(load_chart(dumped(document), layout))
    document["table"] = {"zones_pct": list(table.zones_pct), "rows": {"9": list(table.rows["9"])}}
    document["rotors"][0]["trip_pct"] = 2.0
    with pytest.raises(BadDefinition, match=r"2 % here and 1.5 % in the table") as caught:
        load_chart(dumped(document), layout)
    assert caught.value.field == "rotors[0].trip_pct"


def test_a_dangerous_chart_loads_as_found_and_not_to_set(layout, document):
    document["contacts"][0]["circuit"] = "lamp"
    assert load_chart(dumped(document), layout, purpose="as_found").valve == "RW-204"
    with pytest.raises(BadDefinition, match="nothing stops the drive"):
        load_chart(dumped(document), layout)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda d: d.pop("valve"), "valve"),
        (lambda d: d.pop("ends"), "ends"),
        (lambda d: d["ends"].update(open="brake"), "ends.open"),
        (lambda d: d.update(colour="blue"), "colour"),
        (lambda d: d["rotors"][0].update(trip_pct=-1), "rotors[0].trip_pct"),
        (lambda d: d["rotors"][0].update(trip_pct=float("nan")), "rotors[0].trip_pct"),
        (lambda d: d["rotors"][0].update(differential_pct="wide"), "rotors[0].differential_pct"),
        (lambda d: d["rotors"][0].pop("differential_pct"), "rotors[0].differential_pct"),
        (lambda d: d["rotors"][1].update(id="R8"), "rotors[1].id"),
        (lambda d: d["rotors"][0].update(trips_towards="left"), "rotors[0].trips_towards"),
        (lambda d: d["contacts"][4].update(label=12), "contacts[4].label"),
        (lambda d: d["contacts"][4].update(label="9"), "contacts"),
        (lambda d: d["contacts"][4].update(place="R9-top-1"), "contacts[4].place"),
        (lambda d: d["contacts"][1].update(action="makes"), "contacts[1].action"),
        (lambda d: d["contacts"][1].pop("action"), "contacts[1].action"),
        (lambda d: d["contacts"][1].update(voltage_v=float("inf")), "contacts[1].voltage_v"),
        (lambda d: d["rotors"][0].pop("trip_pct"), "rotors[0].trip_pct"),
        (
            lambda d: d.update(table={"zones_pct": [0, 50, 100], "rows": {"99": ["open", "closed"]}}),
            "table.rows.99",
        ),
    ],
)
def test_a_spoilt_chart_names_the_field(layout, document, change, field):
    change(document)
    with pytest.raises(BadDefinition) as caught:
        load_chart(dumped(document), layout)
    assert caught.value.field == field
