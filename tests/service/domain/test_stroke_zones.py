"""Zones of a stroke against `expected`, which walks the same movement by its own rule."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.expected import expected_rotors
from service.domain.stroke_zones import changes_along, start_of, zones_of
from service.domain.travel import Travel
from tests.service.domain.charts import charts


@given(charts(), st.sampled_from(["open", "closed"]))
def test_in_the_middle_of_each_zone_every_rotor_is_what_the_movement_makes_it(chart, direction):
    far = [Travel(100.0 - start_of(direction)), Travel(start_of(direction))]
    for zone in zones_of(chart, direction):
        if zone.length_pct:
            middle = Travel((zone.from_pct + zone.to_pct) / 2)
            states = expected_rotors(chart, middle, far)
            assert {name: frozenset({state}) for name, state in zone.tripped.items()} == states


@given(charts(), st.sampled_from(["open", "closed"]))
def test_zones_join_from_one_end_to_the_other(chart, direction):
    zones = zones_of(chart, direction)
    assert zones[0].from_pct == start_of(direction)
    assert zones[-1].to_pct == 100.0 - start_of(direction)
    assert all(one.to_pct == two.from_pct for one, two in zip(zones, zones[1:], strict=False))  # noqa: RUF007 - zones read better side by side
    assert sum(zone.length_pct for zone in zones) == pytest.approx(100.0)


@given(charts(), st.sampled_from(["open", "closed"]))
def test_each_rotor_changes_once_on_the_way(chart, direction):
    changes = changes_along(chart, direction)
    assert sorted(change.rotor for change in changes) == sorted(rotor.id for rotor in chart.rotors)
