"""What makes a chart dangerous to set; every such chart can still be recorded as found."""

from dataclasses import replace

import pytest

from service.domain.chart import Rotor
from service.domain.chart_dangers import dangers, require_settable, stops_at
from service.domain.refusals import BadDefinition
from tests.service.domain.charts import two_ended_chart


def changed(label: str, **changes):
    chart = two_ended_chart()
    contacts = tuple(replace(one, **changes) if one.label == label else one for one in chart.contacts)
    return two_ended_chart(contacts=contacts)


def test_a_chart_that_stops_at_both_ends_may_be_set():
    chart = two_ended_chart()
    assert require_settable(chart) is chart
    assert [one.label for one in stops_at(chart, "closed")] == ["9"]


def test_a_motor_limit_contact_that_makes_at_its_end_is_dangerous():
    found = dangers(changed("17", circuit="stops_closing"))
    assert [danger.field for danger in found] == ["contacts[2].action"]


def test_a_motor_limit_contact_on_the_other_ends_rotor_does_not_break_at_its_own_end():
    found = dangers(changed("12", circuit="stops_closing"))
    assert "does not break at its own end" in found[0].reason


@pytest.mark.outside(
    source="common practice, no source: an end is set short of its hard stop, so that the coast fits (P1)",
    confidence="P",
)
@pytest.mark.parametrize(("number", "trip"), [(0, 0.0), (1, 100.0)])
def test_a_limit_that_stops_at_the_hard_stop_itself_is_dangerous(number, trip):
    rotors = list(two_ended_chart().rotors)
    rotors[number] = replace(rotors[number], trip_pct=trip)
    found = dangers(two_ended_chart(rotors=tuple(rotors)))
    assert [danger.field for danger in found] == [f"rotors[{number}].trip_pct"]
    assert "nothing is left for the coast" in found[0].reason


def test_an_end_that_nothing_stops_is_dangerous():
    found = dangers(changed("12", circuit="lamp"))
    assert [danger.field for danger in found] == ["open_end"]
    assert "nothing stops the drive" in found[0].reason


def test_a_stop_on_an_auxiliary_rotor_leaves_the_end_unstopped():
    chart = two_ended_chart()
    rotors = (replace(chart.rotors[0], role="auxiliary", trip_pct=40.0), chart.rotors[1])
    assert [danger.field for danger in dangers(two_ended_chart(rotors=rotors))] == ["closed_end"]


def test_an_end_seated_by_torque_asks_for_no_limit_contact():
    assert dangers(replace(changed("12", circuit="lamp"), open_end="torque")) == ()


@pytest.mark.outside(
    source="common practice, no source: both ends tripped at once means crossed limits", confidence="P"
)
def test_end_rotors_with_crossed_trip_points_are_dangerous():
    rotors = (Rotor("R1", "closed", 97.0, 1.0, "closed_end"), Rotor("R2", "open", 3.0, 1.0, "open_end"))
    found = dangers(two_ended_chart(rotors=rotors))
    assert "crossed or wrongly set" in found[0].reason


def test_end_rotors_that_cannot_reset_before_the_other_trips_are_dangerous():
    rotors = (Rotor("R1", "closed", 30.0, 40.0, "closed_end"), Rotor("R2", "open", 60.0, 1.0, "open_end"))
    assert "neither direction would run" in dangers(two_ended_chart(rotors=rotors))[0].reason


def test_ends_that_trip_at_one_travel_are_crossed_and_not_merely_slow_to_reset():
    rotors = (Rotor("R1", "closed", 50.0, 1.0, "closed_end"), Rotor("R2", "open", 50.0, 1.0, "open_end"))
    assert "crossed or wrongly set" in dangers(two_ended_chart(rotors=rotors))[0].reason


@pytest.mark.parametrize(("high_reset", "overlaps"), [(30.5, False), (30.0, True), (29.0, True)])
def test_ends_overlap_exactly_where_one_travel_can_have_both_tripped(high_reset, overlaps):
    rotors = (
        Rotor("R1", "closed", 20.0, 10.0, "closed_end"),
        Rotor("R2", "open", 60.0, 60.0 - high_reset, "open_end"),
    )
    assert bool(dangers(two_ended_chart(rotors=rotors))) == overlaps


def test_a_dangerous_chart_is_refused_as_the_chart_to_set_with_the_way_out():
    with pytest.raises(BadDefinition, match="only recorded as found"):
        require_settable(changed("12", circuit="lamp"))
