"""Layout files, and those that cannot be used."""

import json
from pathlib import Path

import pytest

from service.definitions.layout import load_layout
from service.domain.refusals import BadDefinition

SAMPLE = Path(__file__).parents[3] / "sample_media/jobs/rw-204/layout.json"


def test_the_sample_layout_has_three_rotors_with_two_contacts_a_bar():
    layout = load_layout(SAMPLE.read_bytes())
    assert layout.rotors == ("R1", "R2", "R3")
    assert len(layout.contacts) == 12


def first_contact(document):
    return document["rotors"][0]["bars"][1]["contacts"][0]


def spoilt(change) -> bytes:
    document = json.loads(SAMPLE.read_text())
    change(document)
    return json.dumps(document).encode()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda d: d.pop("rotors"), "rotors"),
        (lambda d: d["rotors"][1].pop("bars"), "rotors[1].bars"),
        (lambda d: first_contact(d).update(along_means="half"), "rotors[0].bars[1].contacts[0].along_means"),
        (lambda d: d["rotors"][0].update(finger_axis_deg=float("nan")), "rotors[0].finger_axis_deg"),
        (lambda d: d["rotors"][2].update(id="R1"), "rotors"),
    ],
)
def test_a_spoilt_layout_names_the_field(change, field):
    with pytest.raises(BadDefinition) as caught:
        load_layout(spoilt(change))
    assert caught.value.field == field
