"""Probabilities are probabilities: they add up, they fall where they must, and doubt pulls them together."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.calibration import calibration, shares
from vision.features import SEEN_FIGURES, TRUST_FIGURES
from vision.judgement import CALL_FROM
from vision.layout import AngleBand

BAND = AngleBand()
ANGLES = st.floats(-720, 720)


@given(angle=ANGLES, axis=ANGLES, sigma=st.floats(0.3, 10), trust=st.floats(0, 1))
def test_the_three_shares_add_up_to_one(angle, axis, sigma, trust):
    parts = shares(angle, axis, sigma, trust, BAND)
    assert sum(parts) == pytest.approx(1.0, abs=1e-6)
    assert min(parts) >= -1e-9


@given(angle=ANGLES, axis=ANGLES, sigma=st.floats(0.3, 3), trust=st.floats(0, 1))
def test_a_quarter_turn_swaps_along_and_across(angle, axis, sigma, trust):
    along, across, _ = shares(angle, axis, sigma, trust, BAND)
    swapped = shares(angle + 90.0, axis, sigma, trust, BAND)
    assert (along, across) == (pytest.approx(swapped[1], abs=1e-6), pytest.approx(swapped[0], abs=1e-6))


@given(off=st.floats(14.0, 76.0), sigma=st.floats(0.3, 10), trust=st.floats(0, 1))
def test_a_bar_measured_part_way_is_never_called(off, sigma, trust):
    along, across, _ = shares(off, 0.0, sigma, trust, BAND)
    assert max(along, across) < CALL_FROM


def test_without_trust_every_angle_is_as_likely():
    along, across, between = shares(0.0, 0.0, 1.0, 0.0, BAND)
    assert along == pytest.approx(12 / 90)
    assert across == pytest.approx(12 / 90)
    assert between == pytest.approx(66 / 90)


def test_the_shipped_table_fits_the_figures_that_are_measured():
    table = calibration()
    assert len(table.trust.weights) == len(TRUST_FIGURES)
    assert {len(model.weights) for model in table.seen.values()} == {len(SEEN_FIGURES)}
    assert 0.1 < table.sigma_deg(0.0, 0.0) < 1.5
    assert table.sigma_deg(5.0, 0.0) > 1.5 * table.sigma_deg(0.0, 0.0)
    assert table.sigma_deg(0.0, 0.3) > 1.5 * table.sigma_deg(0.0, 0.0)
