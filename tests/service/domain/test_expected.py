"""What a contact must be: against a walk in small steps that keeps every possible past, and by property."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.chart import Rotor
from service.domain.expected import (
    along_at_checkpoint,
    arriving,
    expected,
    expected_along,
    expected_at_checkpoint,
    expected_contacts,
    possibly_tripped,
)
from service.domain.layout import state_on_bar
from service.domain.refusals import BadDefinition
from service.domain.travel import Travel
from tests.service.domain.charts import charts, rotors_on_a_grid, two_ended_chart

points = st.builds(Travel, st.integers(0, 100).map(float), st.integers(0, 3).map(float))


def walked(rotor: Rotor, stops: tuple[int, ...], *, tripped: bool) -> bool:
    """Walk whole percents from stop to stop and let the rotor snap where it stands: the plain rule."""
    here = stops[0]
    for stop in stops:
        step = 1 if stop >= here else -1
        for at in range(here, stop + step, step):
            if rotor.trips_towards == "open":
                trips, resets = at >= rotor.trip_pct, at < rotor.trip_pct - rotor.differential_pct
            else:
                trips, resets = at <= rotor.trip_pct, at > rotor.trip_pct + rotor.differential_pct
            tripped = trips or (tripped and not resets)
        here = stop
    return tripped


@given(rotors_on_a_grid(), st.lists(points, min_size=1, max_size=3))
def test_every_possible_past_walked_in_steps_gives_the_same_states(rotor, path):
    spots = [range(int(point.lowest), int(point.highest) + 1) for point in path]
    brute = {walked(rotor, stops, tripped=before) for stops in product(*spots) for before in (True, False)}
    assert possibly_tripped(rotor, path[-1], path[:-1]) == brute


@given(charts(), points, st.lists(points, max_size=3))
def test_making_and_breaking_contacts_of_one_rotor_are_never_both_closed(chart, travel, history):
    states = expected_contacts(chart, travel, history)
    for rotor in chart.rotors:
        closed = {one.action for one in chart.contacts_of(rotor.id) if states[one.label] == "closed"}
        assert closed != {"makes", "breaks"}


@given(charts(), points, st.lists(points, max_size=3))
def test_less_doubt_never_contradicts_more_doubt(chart, travel, history):
    vague = expected_contacts(chart, travel, history)
    sharp = expected_contacts(chart, Travel(travel.pct), [Travel(point.pct) for point in history])
    assert all(vague[label] in {"either", sharp[label]} for label in sharp if sharp[label] != "either")


@given(charts(), st.data())
def test_a_checkpoint_agrees_with_the_bar_that_must_lie_along(chart, data):
    states = {
        rotor.id: data.draw(st.sampled_from(["at_rest", "just_tripped", "still_tripped", "reset"]))
        for rotor in chart.rotors
    }
    along = along_at_checkpoint(chart, states)
    for label, state in expected_at_checkpoint(chart, states).items():
        place = chart.layout.place(chart.contact(label).place)
        assert state == state_on_bar(place, along=along[place.rotor] == place.bar)


@given(charts(), points)
def test_the_end_of_a_one_way_movement_leaves_nothing_open_but_the_travels_own_doubt(chart, travel):
    states = expected_contacts(chart, Travel(travel.pct), arriving(travel, "open"))
    assert "either" not in states.values()


@given(
    charts(),
    st.sampled_from(["open", "closed"]),
    st.lists(st.integers(0, 400).map(lambda n: n / 4), max_size=20),
)
def test_many_travels_of_a_stroke_are_told_as_each_alone(chart, direction, travels):
    far_end = [
        Travel(0.0 if direction == "closed" else 100.0),
        Travel(100.0 if direction == "closed" else 0.0),
    ]
    alone = [expected_contacts(chart, Travel(pct), far_end) for pct in travels]
    assert expected_along(chart, direction, travels) == alone


@pytest.mark.parametrize(("towards", "from_pct"), [("open", 0.0), ("closed", 100.0)])
def test_a_one_way_movement_starts_at_the_far_end(towards, from_pct):
    assert [point.pct for point in arriving(Travel(40.0), towards)] == [from_pct]


def test_inside_the_differential_the_history_decides_and_not_the_direction_alone():
    chart = two_ended_chart()
    inside = Travel(2.5)
    assert expected(chart, "9", inside, [Travel(50)]) == "closed"
    assert expected(chart, "9", inside, [Travel(50), Travel(2.2)]) == "closed"
    assert expected(chart, "9", inside, [Travel(50), Travel(1.0)]) == "open"
    assert expected(chart, "9", inside) == "either"


def test_a_travel_whose_doubt_spans_the_trip_leaves_either():
    assert expected(two_ended_chart(), "12", Travel(96.5, 1.0), [Travel(50)]) == "either"


def test_a_rotor_that_the_checkpoint_does_not_name_proves_nothing():
    states = expected_at_checkpoint(two_ended_chart(), {"R1": "just_tripped"})
    assert states == {"9": "open", "3B": "open", "17": "closed", "12": "either", "6B": "either"}


def test_a_checkpoint_may_not_name_a_rotor_or_a_state_that_there_is_not():
    with pytest.raises(BadDefinition, match="no rotor R7"):
        expected_at_checkpoint(two_ended_chart(), {"R7": "at_rest"})
    with pytest.raises(BadDefinition, match="never asleep"):
        expected_at_checkpoint(two_ended_chart(), {"R1": "asleep"})


@pytest.mark.parametrize("pct", [-0.1, 100.1, float("nan"), float("inf")])
def test_a_travel_outside_the_stroke_is_refused_with_its_value(pct):
    with pytest.raises(BadDefinition, match="outside 0 to 100"):
        Travel(pct)


@pytest.mark.outside(
    source="common practice, no source: expected states of the simplest common scheme", confidence="P"
)
@pytest.mark.parametrize(
    ("travel", "history", "states"),
    [
        (0.0, [50.0], {"O breaks": "closed", "O makes": "open", "C breaks": "open", "C makes": "closed"}),
        (50.0, [0.0], {"O breaks": "closed", "O makes": "open", "C breaks": "closed", "C makes": "open"}),
        (100.0, [50.0], {"O breaks": "open", "O makes": "closed", "C breaks": "closed", "C makes": "open"}),
    ],
)
def test_the_simplest_common_scheme_gives_its_table(travel, history, states):
    chart = two_ended_chart()
    names = {"12": "O breaks", "6B": "O makes", "9": "C breaks", "17": "C makes"}
    got = expected_contacts(chart, Travel(travel), [Travel(point) for point in history])
    assert {name: got[label] for label, name in names.items()} == states


@pytest.mark.outside(
    source="Preisach model, non-ideal relay: 1 where x >= beta, 0 where x <= alpha, as before in between; from memory",
    confidence="M",
)
@pytest.mark.parametrize("towards", ["open", "closed"])
def test_a_rotor_is_the_non_ideal_relay_of_the_textbooks(towards):
    alpha, beta = 40.0, 50.0
    walk = [0.0, 45.0, 49.9, 50.0, 80.0, 45.0, 40.1, 39.9, 45.0, 50.1, 0.0]
    published = [0, 0, 0, 1, 1, 1, 1, 0, 0, 1, 0]
    along = walk if towards == "open" else [100.0 - x for x in walk]
    rotor = Rotor("R1", towards, beta if towards == "open" else 100.0 - beta, beta - alpha)
    passed = [Travel(x) for x in along]
    told = [possibly_tripped(rotor, here, passed[:number]) for number, here in enumerate(passed)]
    assert told == [frozenset({bool(state)}) for state in published]


@pytest.mark.outside(
    source="common practice, no source: a limit contact stays open beyond its end (P3)", confidence="P"
)
def test_a_limit_contact_opens_at_its_end_stays_open_beyond_and_closes_only_after_its_reset():
    chart = two_ended_chart()
    at = [97.0, 98.0, 100.0, 96.5, 95.9]
    states = [
        expected(chart, "12", Travel(pct), [Travel(50), *(Travel(earlier) for earlier in at[:number])])
        for number, pct in enumerate(at)
    ]
    assert states == ["open", "open", "open", "open", "closed"]


@pytest.mark.outside(
    source="common practice, no source: contacts of one rotor are never both closed (P4)", confidence="P"
)
@pytest.mark.parametrize("state", ["at_rest", "just_tripped", "still_tripped", "reset"])
def test_no_state_of_a_rotor_closes_both_its_making_and_its_breaking_contact(state):
    states = expected_at_checkpoint(two_ended_chart(), {"R1": state})
    assert [states["9"], states["17"]].count("closed") == 1
