"""From bars to contacts: the whole table, and nothing from a rotor that is not legal."""

import json

import pytest

from tests.vision.test_layout_file import changed
from vision import load_layout
from vision.contacts import contact_state, contacts_of
from vision.reading import BarReading, RotorReading

TABLE = {
    ("along", "closed"): "closed",
    ("along", "open"): "open",
    ("across", "closed"): "open",
    ("across", "open"): "closed",
}


@pytest.mark.parametrize("state", ["along", "across", "between", "unreadable"])
@pytest.mark.parametrize("means", ["closed", "open"])
def test_a_contact_follows_its_bar_through_what_along_means(state, means):
    assert contact_state(state, means) == TABLE.get((state, means), "unknown")


def rotor_reading(name: str, state: str, upper: str, lower: str) -> RotorReading:
    bars = [
        BarReading(name, bar, 0.0, 1.0, shown, 0.5) for bar, shown in (("upper", upper), ("lower", lower))
    ]
    return RotorReading(name, state, "", *bars)


def test_contacts_of_one_bar_may_mean_opposite_things():
    layout = load_layout(changed("rotors/0/bars/0/contacts/1/along_means", "open"))
    states = contacts_of(layout, [rotor_reading("R1", "legal", "along", "across")])
    assert states["R1-top-1"] == "closed"
    assert states["R1-top-2"] == "open"
    assert states["R1-low-1"] == "open"
    assert states["R2-top-1"] == "unknown"


@pytest.mark.parametrize("state", ["between", "impossible", "unreadable"])
def test_contacts_of_a_rotor_that_is_not_legal_are_unknown(job_layout, state):
    states = contacts_of(job_layout, [rotor_reading("R1", state, "along", "across")])
    assert {states[name] for name in states if name.startswith("R1")} == {"unknown"}


def test_every_contact_of_the_layout_has_a_state(job_layout):
    named = [
        c["id"] for r in json.loads(changed("angle_band"))["rotors"] for b in r["bars"] for c in b["contacts"]
    ]
    assert list(contacts_of(job_layout, [])) == named
