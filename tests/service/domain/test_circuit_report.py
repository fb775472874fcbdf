"""What stops a stroke, what the lamps do along it, how long a bypass lasts, and the dangers of a circuit."""

from dataclasses import replace

import pytest

from service.domain.chart import ContactChart, Rotor
from service.domain.circuit_report import (
    bypasses,
    circuit_dangers,
    has_torque_switch,
    lamps_along,
    require_settable_circuits,
    stop_of,
)
from service.domain.refusals import BadDefinition
from tests.service.domain.charts import contact, switch, two_ended_chart
from tests.service.domain.circuits_in_words import circuits

SHOWS = {"closed": "lamp green and not lamp red", "open": "lamp red and not lamp green"}
LAMPS = {"red": "contact 3B", "green": "contact 12"}


def with_auxiliary(trip=18.0, **changes) -> ContactChart:
    """The two-ended chart with a third rotor near the closed end: contact 2D makes there."""
    layout = switch(rotors=3)
    chart = two_ended_chart(layout=layout)
    return replace(
        chart,
        rotors=(*chart.rotors, Rotor("R3", "closed", trip, 1.5)),
        contacts=(*chart.contacts, contact(layout, "2D", "R3-upper-1", "makes")),
        **changes,
    )


def torque_seated(trip_pct=1.0) -> ContactChart:
    """Closed end seated by torque: contact 9 stops nothing and only indicates."""
    chart = two_ended_chart()
    contacts = tuple(replace(one, circuit="lamp") if one.label == "9" else one for one in chart.contacts)
    rotors = (replace(chart.rotors[0], trip_pct=trip_pct), chart.rotors[1])
    return replace(chart, contacts=contacts, rotors=rotors, closed_end="torque")


TORQUE_CLOSING = "command close and torque closing"


def reasons(given) -> str:
    return " / ".join(danger.reason for danger in circuit_dangers(given))


def test_each_direction_is_stopped_by_the_limit_contact_at_its_trip():
    given = circuits(two_ended_chart())
    assert stop_of(given, "closed").by == "contact 9 at 2 %"
    assert stop_of(given, "open").by == "contact 12 at 97 %"
    assert circuit_dangers(given) == ()


@pytest.mark.outside(
    source="common practice, no source: a torque-seated end stops on the torque switch (P7)", confidence="P"
)
def test_a_torque_seated_end_is_stopped_by_torque_and_not_by_the_limit():
    given = circuits(torque_seated(), closing=TORQUE_CLOSING)
    assert (stop_of(given, "closed").kind, stop_of(given, "closed").by) == (
        "torque",
        "torque switch at the seat",
    )
    assert circuit_dangers(given) == ()


@pytest.mark.outside(
    source="common practice, no source: a bypass bridges the torque switch near shut (P8)", confidence="P"
)
def test_an_opening_bypass_lasts_from_shut_to_the_reset_of_its_rotor_in_percent_and_turns():
    given = circuits(
        with_auxiliary(), opening="command open and contact 12 and (torque opening or contact 2D)"
    )
    (bypass,) = bypasses(given, drive_turns=40)
    assert (bypass.direction, bypass.from_pct, bypass.to_pct) == ("open", 0.0, 19.5)
    assert bypass.drive_turns == pytest.approx(7.8)
    assert circuit_dangers(given) == ()


def test_a_closing_bypass_near_open_lasts_until_its_rotor_resets_and_is_no_danger():
    given = circuits(
        two_ended_chart(), closing="command close and contact 9 and (torque closing or contact 6B)"
    )
    (bypass,) = bypasses(given, drive_turns=40)
    assert (bypass.direction, bypass.from_pct, bypass.to_pct, bypass.length_pct) == (
        "closed",
        100.0,
        96.0,
        4.0,
    )
    assert bypass.drive_turns == pytest.approx(1.6)
    assert circuit_dangers(given) == ()


def test_a_direction_without_torque_switch_has_no_bypass():
    given = circuits(two_ended_chart(), closing="command close and contact 9")
    assert not has_torque_switch(given, "closed")
    assert bypasses(given) == ()


def test_a_bypass_at_the_directions_own_seat_is_dangerous():
    given = circuits(
        with_auxiliary(), closing="command close and contact 9 and (torque closing or contact 2D)"
    )
    assert "bridged from 18 to 2 %, at that direction's own seat" in reasons(given)


def test_a_bypass_that_leaves_a_torque_seated_end_without_any_stop_is_named_so():
    chart = torque_seated()
    given = circuits(chart, closing="command close and (torque closing or contact 17)")
    assert "Nothing stops the motor at the closed end" in reasons(given)
    assert "torque could not stop the motor there" in reasons(given)


@pytest.mark.outside(
    source="common practice, no source: opening is stopped by the limit, torque only protects (P9)",
    confidence="P",
)
def test_an_opening_end_that_only_torque_stops_is_dangerous_where_the_chart_names_the_limit():
    chart = two_ended_chart()
    contacts = tuple(replace(one, circuit="lamp") if one.label == "12" else one for one in chart.contacts)
    given = circuits(replace(chart, contacts=contacts), opening="command open and torque opening")
    assert "only torque stops it there" in reasons(given)


def test_a_limit_that_stops_a_torque_seated_end_before_its_seat_is_dangerous():
    given = circuits(replace(two_ended_chart(), closed_end="torque"))
    assert "stops the motor before" in reasons(given)


def test_a_motor_that_could_not_leave_its_end_is_dangerous():
    given = circuits(two_ended_chart(), opening="command open and contact 12 and contact 9")
    assert "could not leave the closed end: 9 is open there" in reasons(given)


def test_a_lamp_that_shows_an_end_before_it_is_reached_is_dangerous():
    early = circuits(with_auxiliary(), lamps={"red": "not contact 2D", "green": "contact 12"}, shows=SHOWS)
    assert "show the closed end from 18 % on, before contact 9 at 2 %" in reasons(early)


def test_a_lamp_that_shows_the_open_end_too_early_is_dangerous_too():
    shows = {"open": "lamp white"}
    early = circuits(with_auxiliary(), lamps={"white": "not contact 2D"}, shows=shows)
    assert "show the open end from 19.5 % on, before contact 12 at 97 %" in reasons(early)


def test_lamps_that_show_the_end_at_its_stop_are_no_danger():
    assert circuit_dangers(circuits(two_ended_chart(), lamps=LAMPS, shows=SHOWS)) == ()


def test_a_close_indication_that_trips_only_at_the_seat_of_a_torque_seated_valve_is_dangerous():
    given = circuits(torque_seated(trip_pct=0.0), TORQUE_CLOSING, lamps=LAMPS, shows=SHOWS)
    assert "only after the seat" in reasons(given)
    assert circuit_dangers(circuits(torque_seated(1.0), TORQUE_CLOSING, lamps=LAMPS, shows=SHOWS)) == ()


def test_how_early_a_torque_seated_end_may_be_shown_is_the_sites_rule():
    given = circuits(torque_seated(4.0), TORQUE_CLOSING, lamps=LAMPS, shows=SHOWS)
    assert circuit_dangers(given) == ()
    assert "before the last 3 %" in circuit_dangers(given, indication_within_pct=3.0)[0].reason


def test_lamps_along_a_stroke_change_where_their_rotor_does():
    given = circuits(two_ended_chart(), lamps=LAMPS)
    closing = [
        (zone.zone.from_pct, zone.lit["red"], zone.lit["green"]) for zone in lamps_along(given, "closed")
    ]
    assert closing == [(100.0, True, False), (96.0, True, True), (2.0, False, True)]


def test_dangerous_circuits_are_refused_as_the_ones_to_set():
    with pytest.raises(BadDefinition, match="only recorded as found") as caught:
        require_settable_circuits(circuits(replace(two_ended_chart(), closed_end="torque")))
    assert caught.value.field == "circuits.motor.closing"
