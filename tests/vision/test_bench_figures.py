"""The bounds that the bench prints, against published values."""

import numpy as np
import pytest

from tests.bench.reading_figures import reliability_picture, upper_bound, wilson

NEWCOMBE = "R. G. Newcombe, Statistics in Medicine 17 (1998) 857, table I: 81/263, 15/148, 0/20, 1/29"


@pytest.mark.outside(source=NEWCOMBE)
@pytest.mark.parametrize(
    ("events", "trials", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilsons_interval_is_the_published_one(events, trials, low, high):
    assert wilson(events, trials) == pytest.approx((low, high), abs=1e-4)


@pytest.mark.outside(
    source="zero failures: 1 - 0.05 ** (1 / n); 59 trials for 95/95, 299 for 99/95 (tolerance tables)"
)
@pytest.mark.parametrize(("trials", "bound"), [(59, 0.049508), (299, 0.009969)])
def test_no_event_in_n_trials_is_bounded_as_the_tables_say(trials, bound):
    assert upper_bound(0, trials) == pytest.approx(bound, abs=1e-6)


def test_nothing_tried_bounds_nothing():
    assert upper_bound(0, 0) == 1.0
    assert wilson(0, 0) == (0.0, 1.0)


def test_the_reliability_diagram_has_a_point_where_the_share_says():
    sure = [(0.99, True)] * 40 + [(0.01, False)] * 40
    drawn, empty = reliability_picture(sure), reliability_picture([])
    assert drawn.shape == empty.shape
    rows, columns = np.nonzero(np.abs(drawn.astype(int) - empty).max(axis=2) > 60)
    for places in (rows, columns):
        assert places.min() < 120
        assert places.max() > 600
