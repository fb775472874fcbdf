"""What the contacts do to motor and lamps, with everything unknown left unknown and nothing more."""

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.chart_dangers import stops_at
from service.domain.circuit_report import has_torque_switch
from service.domain.circuits import (
    Known,
    blocks_at,
    lamps_at,
    plain_circuits,
    shown_by_lamps,
    surely,
    value_of,
)
from service.domain.expected import expected_rotors
from service.domain.refusals import BadDefinition
from service.domain.travel import Travel
from tests.service.domain.charts import two_ended_chart
from tests.service.domain.circuits_in_words import circuits

CHART = two_ended_chart()  # 9, 3B break and 17 makes at closed (2 %); 12 breaks and 6B makes at open (97 %)
RED_IS_OPEN = {"closed": "lamp green and not lamp red", "open": "lamp red and not lamp green"}
GREEN_IS_OPEN = {"open": "lamp green and not lamp red", "closed": "lamp red and not lamp green"}
BOTH_LIT_IN_BETWEEN = {"red": "contact 3B", "green": "contact 12"}

possible = st.sampled_from([frozenset({True}), frozenset({False}), frozenset({True, False})])
formulas = st.sampled_from(
    [
        "contact 9 or contact 17",
        "contact 9 and contact 17",
        "contact 3B and contact 12",
        "contact 17 or not contact 6B and torque closing",
        "command open and (torque opening or contact 17)",
        "not (command stop or contact 12)",
    ]
)


def test_circuits_that_name_each_other_over_and_over_are_worked_out_once_each():
    doubling = {f"s{n}": f"signal s{n - 1} and signal s{n - 1}" for n in range(1, 25)}
    built = circuits(CHART, signals={"s0": "contact 9", **doubling})
    assert value_of(built, "signal s24", Known(surely({"R1": False}))) is True


def test_circuits_that_nest_beyond_reason_are_refused_at_their_name():
    deep = {f"s{n}": f"{'not ' * 30}signal s{n - 1}" for n in range(1, 12)}
    with pytest.raises(BadDefinition, match="nest more than 200") as caught:
        circuits(CHART, signals={"s0": "contact 9", **deep})
    assert caught.value.field.startswith("circuits.signal s")


def test_circuits_with_more_parts_than_any_valve_has_are_refused():
    with pytest.raises(BadDefinition, match="more than 2000 parts"):
        circuits(CHART, signals={f"s{n}": " or ".join(["contact 9"] * 150) for n in range(15)})


@given(
    formulas,
    possible,
    possible,
    st.sampled_from([None, True, False]),
    st.sampled_from([None, "open", "close"]),
)
def test_a_value_is_said_exactly_where_every_possible_world_agrees(formula, r1, r2, torque, command):
    given_circuits = circuits(CHART, signals={"s": formula})
    known = Known({"R1": r1, "R2": r2}, {} if torque is None else {"closed": torque, "open": torque}, command)
    brute = set()
    for one, two, way, word in product(
        r1, r2, [True, False] if torque is None else [torque], ["open", "close", "stop"]
    ):
        if command in {None, word}:
            world = Known(surely({"R1": one, "R2": two}), {"closed": way, "open": way}, word)
            brute.add(value_of(given_circuits, "signal s", world))
    if torque is None:  # the two torque switches are independent: the brute force above moves them together
        for one, two, way, word in product(r1, r2, [True, False], ["open", "close", "stop"]):
            if command in {None, word}:
                world = Known(surely({"R1": one, "R2": two}), {"closed": way, "open": not way}, word)
                brute.add(value_of(given_circuits, "signal s", world))
    assert value_of(given_circuits, "signal s", known) == (brute.pop() if len(brute) == 1 else None)


def test_contacts_of_one_rotor_move_together_so_either_of_two_opposites_is_always_closed():
    unknown = Known({"R1": frozenset({True, False})})
    assert value_of(circuits(CHART, signals={"s": "contact 9 or contact 17"}), "signal s", unknown) is True


def test_the_blocked_direction_is_named_with_the_contact_that_blocks_it():
    at_closed = expected_rotors(CHART, Travel(0.0), [Travel(50.0)])
    (block,) = blocks_at(circuits(CHART), at_closed)
    assert (block.direction, block.contacts) == ("closed", ("9",))


def test_inside_the_doubt_of_the_travel_a_block_cannot_be_told():
    vague = expected_rotors(CHART, Travel(2.5, 1.0), [Travel(50.0)])
    assert [(block.direction, block.contacts) for block in blocks_at(circuits(CHART), vague)] == [
        ("closed", None)
    ]


def test_a_chart_without_stated_circuits_implies_its_stop_contacts_in_series():
    plain = plain_circuits(CHART)
    assert plain.lamps == ()
    at_open = expected_rotors(CHART, Travel(100.0), [Travel(50.0)])
    assert [block.contacts for block in blocks_at(plain, at_open)] == [(stops_at(CHART, "open")[0].label,)]


@pytest.mark.parametrize(("end", "other"), [("closed", "open"), ("open", "closed")])
def test_the_implied_path_of_a_torque_seated_end_alone_passes_its_torque_switch(end, other):
    plain = plain_circuits(replace(CHART, **{f"{end}_end": "torque"}))
    assert has_torque_switch(plain, end)
    assert not has_torque_switch(plain, other)


@pytest.mark.outside(
    source="common practice, no source: the widespread scheme lights both lamps in mid travel (P12)",
    confidence="P",
)
def test_both_lamps_are_lit_in_mid_travel_and_one_at_each_end():
    scheme = circuits(CHART, lamps=BOTH_LIT_IN_BETWEEN)
    lit = [
        lamps_at(scheme, Known(expected_rotors(CHART, Travel(pct), [Travel(50.0)])))
        for pct in (0.0, 50.0, 100.0)
    ]
    assert lit == [{"red": False, "green": True}, {"red": True, "green": True}, {"red": True, "green": False}]


@pytest.mark.outside(
    source="common practice, no source: in another scheme both lamps are dark in mid travel (P12)",
    confidence="P",
)
def test_the_other_scheme_is_dark_in_mid_travel():
    scheme = circuits(CHART, lamps={"red": "contact 6B", "green": "contact 17"})
    in_between = Known(expected_rotors(CHART, Travel(50.0), [Travel(0.0)]))
    assert lamps_at(scheme, in_between) == {"red": False, "green": False}


@pytest.mark.outside(
    source="IEC 60073 colours against the opposite power-plant practice: no default meaning (C1, C4)",
    confidence="V2 for IEC 60073, M for the opposite practice",
)
def test_the_same_lighted_lamps_mean_opposite_ends_under_the_two_colour_practices():
    lit = {"red": True, "green": False}
    meanings = [
        shown_by_lamps(circuits(CHART, lamps=BOTH_LIT_IN_BETWEEN, shows=shows), lit)
        for shows in (RED_IS_OPEN, GREEN_IS_OPEN, {})
    ]
    assert meanings == [("open",), ("closed",), ()]


@pytest.mark.outside(
    source="common practice, no source: dark lamps mean lost supply, no state (P12)", confidence="P"
)
def test_all_lamps_dark_show_no_end():
    scheme = circuits(CHART, lamps=BOTH_LIT_IN_BETWEEN, shows=RED_IS_OPEN)
    assert shown_by_lamps(scheme, {"red": False, "green": False}) == ()


def test_what_lamps_show_is_not_guessed_while_one_lamp_is_not_stated():
    with pytest.raises(BadDefinition, match="lamp green") as caught:
        shown_by_lamps(circuits(CHART, lamps=BOTH_LIT_IN_BETWEEN, shows=RED_IS_OPEN), {"red": True})
    assert caught.value.field == "lamps.green"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"lamps": {"red": "contact 99"}}, "no contact 99"),
        ({"lamps": {"red": "lamp blue"}}, "no circuit lamp blue"),
        ({"lamps": {"red": "lamp green", "green": "not lamp red"}}, "itself: lamp red -> lamp green"),
        ({"lamps": {"red": "signal s"}, "signals": {"s": "lamp red"}}, "depends on itself"),
        ({"closing": "command close and torque closing"}, "does not pass through it"),
    ],
)  # fmt: skip
def test_unknown_contacts_loops_and_missing_stops_are_refused(changes, words):
    with pytest.raises(BadDefinition, match=words) as caught:
        circuits(CHART, **changes)
    assert caught.value.field.startswith("circuits.")
