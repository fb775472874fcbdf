"""A chart that contradicts itself or its switch cannot be built, and says why in a technician's words."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.chart import ContactChart, Rotor, rest_bar_of
from service.domain.layout import state_on_bar
from service.domain.refusals import BadDefinition
from tests.service.domain.charts import charts, contact, switch, two_ended_chart


def refused(**changes) -> BadDefinition:
    with pytest.raises(BadDefinition) as caught:
        two_ended_chart(**changes)
    return caught.value


def with_contacts(*changes) -> tuple:
    chart = two_ended_chart()
    return (*chart.contacts, *changes)


def test_a_making_and_a_breaking_contact_on_one_bar_would_be_closed_together():
    clash = contact(switch(), "20", "R2-lower-2", "makes")
    refusal = refused(contacts=with_contacts(clash))
    assert "closed together" in refusal.message
    assert refusal.field == "contacts[5].action"


def test_equal_actions_on_the_two_bars_of_a_rotor_contradict_the_switch():
    clash = contact(switch(), "20", "R2-upper-2", "breaks")
    assert "never acting alike" in refused(contacts=with_contacts(clash)).message


def test_an_inverse_contact_acts_opposite_to_its_neighbour_on_the_same_bar():
    layout = switch(means={"R1-lower-2": "open"})
    chart = two_ended_chart(layout=layout, contacts=(
        contact(layout, "9", "R1-lower-1", "breaks", "stops_closing"),
        contact(layout, "3B", "R1-lower-2", "makes"),
    ))  # fmt: skip
    assert chart.along_at_rest == {"R1": "lower"}


@given(charts())
def test_the_bar_along_at_rest_explains_every_contact(chart):
    for one in chart.contacts:
        place = chart.layout.place(one.place)
        at_rest = state_on_bar(place, along=chart.along_at_rest[one.rotor] == place.bar)
        assert (at_rest == "closed") == (one.action == "breaks")


@given(charts(), st.data())
def test_turning_the_action_of_one_of_several_contacts_of_a_rotor_is_always_refused(chart, data):
    crowded = [rotor.id for rotor in chart.rotors if len(chart.contacts_of(rotor.id)) > 1]
    if not crowded:
        return
    turned = data.draw(st.sampled_from([one for one in chart.contacts if one.rotor in crowded]))
    other = {"makes": "breaks", "breaks": "makes"}[turned.action]
    contacts = tuple(replace(one, action=other) if one is turned else one for one in chart.contacts)
    with pytest.raises(BadDefinition, match="cannot do what the chart says"):
        ContactChart(chart.valve, chart.layout, chart.rotors, contacts)


def test_a_label_given_twice_is_refused():
    again = contact(switch(), "9", "R2-upper-2", "makes")
    assert "label 9 occurs twice" in refused(contacts=with_contacts(again)).message


def test_a_place_wired_twice_is_refused():
    again = contact(switch(), "21", "R2-upper-1", "makes")
    assert "place R2-upper-1 occurs twice" in refused(contacts=with_contacts(again)).message


def test_a_place_that_the_layout_does_not_have_is_refused_with_the_field():
    unknown = replace(two_ended_chart().contacts[0], label="21", place="R9-upper-1")
    refusal = refused(contacts=with_contacts(unknown))
    assert (refusal.field, "layout invented does not have" in refusal.message) == ("contacts[5].place", True)


def test_a_contact_said_to_sit_on_the_wrong_bar_is_refused():
    misplaced = replace(two_ended_chart().contacts[0], label="21", bar="upper")
    assert "on the lower bar" in refused(contacts=with_contacts(misplaced)).message


def test_a_contact_on_a_rotor_without_trip_point_is_refused():
    assert "no trip point" in refused(rotors=two_ended_chart().rotors[:1]).message


@pytest.mark.parametrize("pct", [-1.0, 100.5, math.nan, math.inf])
def test_a_trip_point_beyond_travel_is_refused_with_its_value(pct):
    refusal = refused(rotors=(Rotor("R1", "closed", pct, 1.0), two_ended_chart().rotors[1]))
    assert (refusal.field, "outside the travel" in refusal.message) == ("rotors[0].trip_pct", True)


@pytest.mark.parametrize("differential", [-0.5, math.nan, math.inf])
def test_a_differential_that_is_no_distance_is_refused(differential):
    refusal = refused(rotors=(Rotor("R1", "closed", 2.0, differential), two_ended_chart().rotors[1]))
    assert refusal.field == "rotors[0].differential_pct"


def test_a_rotor_that_could_never_reset_is_refused():
    refusal = refused(rotors=(Rotor("R1", "open", 3.0, 4.0), two_ended_chart().rotors[1]))
    assert "never resets" in refusal.message


def test_an_end_rotor_that_trips_away_from_its_end_is_refused():
    refusal = refused(rotors=(Rotor("R1", "open", 3.0, 1.0, "closed_end"), two_ended_chart().rotors[1]))
    assert refusal.field == "rotors[0].trips_towards"


@pytest.mark.parametrize("voltage", [-1.0, math.nan, math.inf])
def test_a_voltage_that_is_none_is_refused(voltage):
    live = replace(two_ended_chart().contacts[0], voltage_v=voltage)
    assert refused(contacts=(live,)).field == "contacts[0].voltage_v"


@pytest.mark.parametrize("action", ["makes", "breaks"])
def test_where_a_bar_along_opens_its_contact_the_rest_bar_is_the_other_one(action):
    closing, opening = (switch(means={"R1-upper-1": m}).place("R1-upper-1") for m in ("closed", "open"))
    assert {rest_bar_of(action, closing), rest_bar_of(action, opening)} == {"upper", "lower"}
