"""The rehearsal against chance: the same stroke played many times with inputs drawn at random."""

import random
import statistics
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.circuit_report import stop_of
from service.domain.motor import Measured, Motor
from service.domain.refusals import BadDefinition
from service.domain.rehearsal import Stroke, play, rehearse
from service.domain.travel import Travel
from service.domain.travel_scale import TravelScale
from tests.service.domain.charts import charts, two_ended_chart
from tests.service.domain.circuits_in_words import circuits
from tests.service.domain.test_circuit_report import TORQUE_CLOSING, torque_seated

SCALE = TravelScale("rising_stem", 40, 5, handwheel=12, motor=50)
MOTOR = Motor(Measured(1400, 14), Measured(0.08, 0.02), Measured(4000, 300))
WORD = {"closed": "closing", "open": "opening"}
LAMPS = {"red": "contact 3B", "green": "contact 12"}


def stroke(direction="closed", start_pct=100.0, **changes) -> Stroke:
    given_circuits = changes.pop("circuits", None) or circuits(two_ended_chart(), lamps=LAMPS)
    return Stroke(given_circuits, SCALE, MOTOR, direction, start_pct, **changes)


def test_a_closing_stroke_stops_on_its_limit_coasts_and_leaves_a_distance():
    done = rehearse(stroke())
    assert (done.stopped_by, done.by_contacts) == ("limit", ("9",))
    assert [event.what for event in done.events if event.kind == "lamp"] == [
        "lamp green lights",
        "lamp red goes dark",
    ]
    assert done.coast_pct == pytest.approx(MOTOR.coast_turns / 50 / 40 * 100)
    assert done.left_pct == pytest.approx(2.0 - done.coast_pct)
    assert done.margin_used == pytest.approx(done.coast_pct / 2.0)


def test_events_come_in_order_and_their_doubt_grows_with_the_way():
    done = rehearse(stroke(trip_sigma_pct=0.05))
    times = [event.t_s for event in done.events]
    assert times == sorted(times)
    first, last = (event.sigma_s for event in done.events if event.kind == "lamp")
    assert last > first > 0


def test_the_stated_doubt_is_that_of_many_strokes_played_at_random():
    chance = random.Random(7)  # noqa: S311 - a simulation
    stops, left = [], []
    for _ in range(1500):
        motor = replace(
            MOTOR,
            speed_rpm=Measured(chance.gauss(1400, 14)),
            drop_out_s=Measured(max(0, chance.gauss(0.08, 0.02))),
            deceleration_rpm_s=Measured(chance.gauss(4000, 300)),
        )
        offsets = {rotor: chance.gauss(0, 0.1) for rotor in ("R1", "R2")}
        done = play(replace(stroke(), motor=motor, trip_offsets_pct=offsets))
        stops.append(done.time_of("standstill").t_s)
        left.append(done.left_pct)
    stated = rehearse(stroke(trip_sigma_pct=0.1))
    assert stated.time_of("standstill").sigma_s == pytest.approx(statistics.stdev(stops), rel=0.12)
    assert stated.left_sigma_pct == pytest.approx(statistics.stdev(left), rel=0.12)


@given(st.sampled_from(["open", "closed"]), st.floats(5, 95))
def test_what_is_left_is_the_way_from_the_standstill_to_the_end(direction, start):
    done = play(stroke(direction, start))
    end = 100.0 if direction == "open" else 0.0
    assert done.left_pct == pytest.approx(abs(end - done.events[-1].travel_pct))


@given(st.sampled_from(["open", "closed"]), st.floats(5, 95))
def test_each_contact_event_lies_where_its_rotor_changes(direction, start):
    chart = two_ended_chart()
    for event in play(stroke(direction, start)).events:
        if event.kind == "contact":
            rotor = chart.rotor(chart.contact(event.what.split()[1]).rotor)
            assert event.travel_pct == pytest.approx(
                rotor.trip_pct if rotor.trips_towards == direction else rotor.reset_pct
            )


@given(charts(), st.sampled_from(["open", "closed"]), st.data())
def test_the_rehearsal_of_a_whole_stroke_and_the_report_name_the_same_stop(chart, direction, data):
    labels = [one.label for one in chart.contacts]
    if not labels:
        return
    some = data.draw(st.lists(st.sampled_from(labels), min_size=1, max_size=3))
    path = " or ".join(f"contact {label}" for label in some)
    if data.draw(st.booleans()):
        path = f"({path}) and torque {'closing' if direction == 'closed' else 'opening'}"
    given_circuits = circuits(
        chart, **{"closing": "command close", "opening": "command open"} | {WORD[direction]: path}
    )
    start = 100.0 if direction == "closed" else 0.0
    done, stop = play(stroke(direction, start, circuits=given_circuits)), stop_of(given_circuits, direction)
    if done.stopped_by == "does not start":
        assert (stop.kind, stop.at_pct) == ("limit", start)
    else:
        assert done.stopped_by == stop.kind
        assert done.by_contacts == stop.contacts
        opened = done.time_of("circuit_opens")
        assert opened is None or opened.travel_pct == pytest.approx(stop.at_pct)


def test_a_torque_seated_end_is_stopped_by_torque_with_nothing_left():
    done = rehearse(stroke(circuits=circuits(torque_seated(), TORQUE_CLOSING)))
    assert (done.stopped_by, done.left_pct) == ("torque", 0.0)
    assert [event.kind for event in done.events[-4:]] == ["end", "circuit_opens", "standstill", "drop_out"]


def test_a_coast_longer_than_the_margin_meets_the_hard_stop_and_says_by_how_much():
    slow_to_stop = replace(MOTOR, deceleration_rpm_s=Measured(200))
    done = rehearse(replace(stroke(), motor=slow_to_stop))
    assert "meets the hard stop" in done.events[-1].what
    assert done.left_pct == 0
    assert done.overrun_pct == pytest.approx(slow_to_stop.coast_turns / 50 / 40 * 100 - 2.0)
    assert done.margin_used > 1


def test_without_any_stop_the_motor_stalls_against_the_hard_stop():
    chart = two_ended_chart(contacts=two_ended_chart().contacts[1:])
    done = rehearse(stroke(circuits=circuits(chart, closing="command close")))
    assert done.stopped_by == "nothing"
    assert "stalls against the hard stop" in done.events[-1].what


def test_a_stroke_towards_the_end_where_the_valve_stands_does_not_start():
    done = rehearse(stroke("closed", 1.0, history=(Travel(50.0),)))
    assert (done.stopped_by, done.by_contacts, done.left_pct) == ("does not start", ("9",), None)


def test_a_start_inside_the_differential_needs_its_history():
    with pytest.raises(BadDefinition, match="state the history") as caught:
        rehearse(stroke("open", 2.5, history=(Travel(2.5),)))
    assert caught.value.field == "stroke.history"


@pytest.mark.outside(
    source="common practice, no source: the coast is checked against the back-off (P13)", confidence="P"
)
def test_the_coast_is_shown_as_a_share_of_the_margin():
    assert 0 < rehearse(stroke("open", 0.0)).margin_used < 1


@pytest.mark.parametrize("bad", [-1.0, 101.0, float("nan")])
def test_a_start_outside_the_travel_is_refused_at_its_field(bad):
    with pytest.raises(BadDefinition) as caught:
        stroke(start_pct=bad)
    assert caught.value.field == "stroke.from_pct"


def test_a_scale_without_the_motors_ratio_is_refused_at_its_field():
    with pytest.raises(BadDefinition) as caught:
        rehearse(replace(stroke(), scale=replace(SCALE, motor=None)))
    assert caught.value.field == "scale.motor"


@pytest.mark.parametrize(
    ("scale", "motor", "field"),
    [
        ({"drive_turns": 90000, "motor": 90000}, {}, "scale.motor"),
        ({"drive_turns": 0.01, "motor": 0.01}, {}, "scale.motor"),
        ({}, {"deceleration_rpm_s": Measured(0.01)}, "motor.deceleration_rpm_s"),
    ],
)
def test_a_stroke_that_no_drive_makes_is_refused_and_not_played(scale, motor, field):
    given = stroke()
    absurd = replace(given, scale=replace(SCALE, **scale), motor=replace(MOTOR, **motor))
    with pytest.raises(BadDefinition) as caught:
        rehearse(absurd)
    assert caught.value.field == field


@pytest.mark.parametrize("name", ["speed_rpm", "deceleration_rpm_s", "drop_out_s", "start_s"])
def test_a_figure_of_which_nothing_is_known_is_refused(name):
    with pytest.raises(BadDefinition, match="nothing known") as caught:
        replace(MOTOR, **{name: Measured(100.0, 1e9)})
    assert caught.value.field.endswith("_sigma")
