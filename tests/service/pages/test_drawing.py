import json

import pytest

from service.definitions.chart import load_chart
from service.definitions.layout import load_layout
from service.domain.layout import state_on_bar
from service.pages.drawing import plan_of
from tests.builders import SAMPLES

FOLDER = SAMPLES / "jobs" / "rw-204"


@pytest.fixture
def layout():
    return json.loads((FOLDER / "layout.json").read_text())


@pytest.fixture
def chart():
    return load_chart(
        (FOLDER / "chart.yaml").read_bytes(), load_layout((FOLDER / "layout.json").read_bytes())
    )


def bar_of(bars, *, upper):
    return next(bar for bar in bars if bar.upper is upper)


def test_the_drawn_bars_make_each_contact_what_its_action_says(layout, chart):
    for rotor in plan_of(layout, chart).rotors:
        for contact in chart.contacts_of(rotor.id):
            place = chart.layout.place(contact.place)
            for bars, tripped in ((rotor.at_rest, False), (rotor.tripped, True)):
                bar = bar_of(bars, upper=contact.bar == "upper")
                along = (bar.angle - rotor.fingers) % 180 == 0
                wanted = "closed" if (contact.action == "makes") == tripped else "open"
                assert state_on_bar(place, along=along) == wanted, (contact.label, tripped)


def test_the_two_bars_of_a_rotor_are_drawn_square_to_each_other_the_lower_one_first(layout, chart):
    for rotor in plan_of(layout, chart).rotors:
        for bars in (rotor.at_rest, rotor.tripped):
            assert [bar.upper for bar in bars] == [False, True]
            assert abs(bars[0].angle - bars[1].angle) == 90


def test_the_plan_is_turned_over_from_y_up_to_y_down(layout, chart):
    plan = plan_of(layout, chart)
    stated = {rotor["id"]: rotor["centre_mm"] for rotor in layout["rotors"]}
    for rotor in plan.rotors:
        assert (rotor.x, plan.height - rotor.y) == tuple(stated[rotor.id])


def test_every_contact_of_the_chart_stands_at_its_bar(layout, chart):
    drawn = {
        (rotor.id, bar, label)
        for rotor in plan_of(layout, chart).rotors
        for bar, labels in rotor.labels.items()
        for label in labels
    }
    assert drawn == {(contact.rotor, contact.bar, contact.label) for contact in chart.contacts}
