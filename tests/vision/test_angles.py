"""Axial angles against published values."""

import numpy as np
import pytest
import scipy.stats

from vision.angles import apart, mean, signed, wrapped

BOOK = "J. H. Zar, Biostatistical Analysis, example 26.7: bimodal data of period 180"


@pytest.mark.outside(source="scipy.stats.circmean, an independent implementation, on doubled angles")
@pytest.mark.parametrize(
    "angles", [[179.0, 1.0, 3.0], [10.0, 170.0], [40.0, 50.0, 75.0], [0.5, 179.0, 178.0]]
)
def test_the_axial_mean_equals_the_circular_mean_of_period_180(angles):
    ours = mean(np.array(angles))
    theirs = scipy.stats.circmean(np.array(angles), high=180.0, low=0.0)
    assert ours is not None
    assert float(apart(ours, theirs)) < 1e-6


@pytest.mark.outside(source=BOOK)
def test_the_axial_mean_of_a_textbook_sample_comes_out():
    sample = np.array([35, 40, 40, 45, 45, 55, 60, 215, 220, 225, 225, 235, 235, 240, 245], np.float64)
    assert mean(sample) == pytest.approx(47.953, abs=1e-3)


def test_perpendicular_axes_have_no_mean_and_none_is_made_up():
    assert mean(np.array([0.0, 90.0])) is None


@pytest.mark.parametrize(
    ("one", "other", "distance"), [(179, 1, 2), (0, 90, 90), (45, 135, 90), (10, 190, 0), (-5, 5, 10)]
)
def test_axial_distance_never_exceeds_ninety_and_knows_no_head(one, other, distance):
    assert float(apart(one, other)) == pytest.approx(distance)


def test_wrapping_and_turning_stay_in_their_ranges():
    assert wrapped(-1e-20) == 0.0
    assert wrapped(540.0) == 0.0
    assert signed(1.0, 179.0) == pytest.approx(2.0)
