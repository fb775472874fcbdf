"""Table of a wiring diagram to trip points and back, against a plain look-up and by round trip."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.chart import Rotor
from service.domain.chart_table import CLOSED_MID_OPEN, ChartTable, change_of, table_of, trip_of
from service.domain.expected import expected_contacts
from service.domain.refusals import BadDefinition
from service.domain.travel import Travel
from tests.service.domain.charts import charts, rebuilt, two_ended_chart

rows = st.lists(st.sampled_from(["closed", "open"]), min_size=1, max_size=7).map(tuple)


def table(*row, label="9"):
    step = 100 / len(row)
    return ChartTable((*(step * n for n in range(len(row))), 100.0), {label: row})


@given(charts())
def test_chart_to_table_to_chart_is_the_same_chart(chart):
    again = rebuilt(table_of(chart), chart)
    assert (again.rotors, again.contacts) == (chart.rotors, chart.contacts)


@given(charts(), st.floats(0.5, 99.5))
def test_each_cell_of_the_table_is_what_a_movement_in_the_rotors_own_direction_gives(chart, pct):
    shown = table_of(chart)
    zone = max(n for n, low in enumerate(shown.zones_pct[:-1]) if low <= pct)
    if pct in shown.zones_pct:
        return
    for one in chart.contacts:
        start = Travel(0.0 if chart.rotor(one.rotor).trips_towards == "open" else 100.0)
        assert expected_contacts(chart, Travel(pct), [start])[one.label] == shown.rows[one.label][zone]


@given(rows)
def test_a_row_converts_exactly_when_it_changes_once(row):
    changes = sum(a != b for a, b in pairwise(row))
    if changes == 1:
        assert change_of(table(*row), "9").label == "9"
    else:
        with pytest.raises(BadDefinition, match="never trip" if changes == 0 else "trip twice"):
            change_of(table(*row), "9")


@given(st.sampled_from(["open", "closed"]), st.sampled_from(["closed", "open"]), st.integers(1, 6))
def test_the_action_follows_from_the_side_on_which_the_rotor_is_tripped(towards, above, cut):
    below = "open" if above == "closed" else "closed"
    change = change_of(table(*[below] * cut, *[above] * (7 - cut)), "9")
    tripped_side = above if towards == "open" else below
    assert change.action(towards) == ("makes" if tripped_side == "closed" else "breaks")


def test_a_making_and_a_breaking_row_that_overlap_would_be_closed_together():
    shown = ChartTable(
        (0, 30, 60, 100), {"9": ("closed", "closed", "open"), "17": ("open", "closed", "closed")}
    )
    words = (
        "Contact 17 makes and contact 9 breaks on one rotor, R1, yet between 30 and 60 % both would be closed"
    )
    for labels in (["9", "17"], ["17", "9"]):
        with pytest.raises(BadDefinition, match=words):
            trip_of(shown, labels, "R1", "open")


def test_rows_of_one_rotor_that_change_at_different_travels_are_refused():
    shown = ChartTable(
        (0, 30, 60, 100), {"9": ("closed", "closed", "open"), "3B": ("closed", "open", "open")}
    )
    with pytest.raises(BadDefinition, match="all its contacts change together"):
        trip_of(shown, ["9", "3B"], "R1", "open")


def test_a_rotor_without_any_row_cannot_be_placed():
    with pytest.raises(BadDefinition, match="shows where rotor R1 trips"):
        trip_of(table("closed", "open"), [], "R1", "open")


@pytest.mark.parametrize(
    "zones", [(0, 100, 50), (1, 100), (0, 99), (0,), (0, 50, 50, 100), (0, float("nan"), 100)]
)
def test_zones_that_do_not_rise_from_0_to_100_are_refused(zones):
    with pytest.raises(BadDefinition) as caught:
        ChartTable(zones, {})
    assert caught.value.field == "table.zones_pct"


def test_a_row_with_a_state_too_many_is_refused_by_its_label():
    with pytest.raises(BadDefinition) as caught:
        ChartTable((0, 50, 100), {"9": ("closed", "open", "open")})
    assert caught.value.field == "table.rows.9"


def test_a_rotor_that_trips_at_the_very_end_has_no_zone_to_be_shown_in():
    rotors = (Rotor("R1", "closed", 0.0, 1.0, "closed_end"), two_ended_chart().rotors[1])
    with pytest.raises(BadDefinition, match="no zone can show it"):
        table_of(two_ended_chart(rotors=rotors))


@pytest.mark.outside(
    source="common practice, no source: mid travel is the range from 0.1 to 99.9 % (P22)", confidence="P"
)
def test_the_columns_closed_mid_open_give_trip_points_inside_the_first_and_last_tenth_of_a_percent():
    shown = ChartTable(
        CLOSED_MID_OPEN, {"9": ("open", "closed", "closed"), "12": ("closed", "closed", "open")}
    )
    assert trip_of(shown, ["9"], "R1", "closed") <= 0.1
    assert trip_of(shown, ["12"], "R2", "open") >= 99.9
