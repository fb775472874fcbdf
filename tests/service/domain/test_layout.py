"""The construction of a switch: what it may hold, and what a bar along or across makes of a contact."""

import pytest

from service.domain.layout import Place, SwitchLayout, other_bar, state_on_bar
from service.domain.refusals import BadDefinition
from tests.service.domain.charts import switch


def test_bars_and_places_are_listed_in_the_order_of_the_layout():
    layout = switch(rotors=2, per_bar=1)
    assert layout.bars == (("R1", "upper"), ("R1", "lower"), ("R2", "upper"), ("R2", "lower"))
    assert [place.id for place in layout.places_of("R2")] == ["R2-upper-1", "R2-lower-1"]
    assert layout.place("R9-upper-1") is None


@pytest.mark.parametrize("means", ["closed", "open"])
def test_a_bar_across_is_the_opposite_of_a_bar_along(means):
    place = Place("a", "R1", "upper", means)
    assert {state_on_bar(place, along=True), state_on_bar(place, along=False)} == {"closed", "open"}
    assert state_on_bar(place, along=True) == means


def test_each_bar_is_the_other_of_the_other():
    assert [other_bar(other_bar(bar)) for bar in ("upper", "lower")] == ["upper", "lower"]


@pytest.mark.parametrize(
    ("rotors", "contacts", "words"),
    [
        ((), (), "at least one rotor"),
        (("R1", "R1"), (), "rotor R1 occurs twice"),
        (
            ("R1",),
            (Place("a", "R1", "upper", "open"), Place("a", "R1", "lower", "open")),
            "contact a occurs twice",
        ),
        (("R1",), (Place("a", "R2", "upper", "open"),), "which is not there"),
        (("R1",), (Place("a", "R1", "middle", "open"),), "an upper and a lower bar"),
    ],
)
def test_a_switch_that_contradicts_itself_is_refused(rotors, contacts, words):
    with pytest.raises(BadDefinition, match=words):
        SwitchLayout("invented", rotors, contacts)
