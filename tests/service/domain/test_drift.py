"""Drift between jobs against a fit by another library, and when it is not said."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.domain.drift import POSSIBLE_CAUSES, TripRecord, difference_of, drift_of
from service.domain.refusals import BadDefinition

records = st.lists(
    st.builds(TripRecord, st.integers(0, 3000).map(float), st.floats(0, 5), st.floats(0.02, 1)),
    min_size=2,
    max_size=8,
)


@given(records)
def test_slope_and_its_doubt_are_those_of_a_weighted_fit_by_numpy(jobs):
    days = np.array([job.day for job in jobs])
    assume(len(set(days)) > 1)
    weights = 1 / np.array([job.sigma_pct for job in jobs])
    design = np.vander((days - days.mean()) / 100, 2) * weights[:, None]
    slope = (
        np.linalg.lstsq(design, np.array([job.trip_pct for job in jobs]) * weights, rcond=None)[0][0] / 100
    )
    covariance = np.linalg.inv(design.T @ design)[0, 0] ** 0.5 / 100
    found = drift_of(jobs, 2.0, 1.0)
    assert found.pct_a_year == pytest.approx(slope * 365.25, rel=1e-6, abs=1e-6)
    assert found.sigma_a_year == pytest.approx(covariance * 365.25, rel=1e-6)


def test_a_drift_that_stands_out_says_when_it_leaves_the_tolerance_and_names_causes_as_possible():
    found = drift_of([TripRecord(0, 2.0, 0.01), TripRecord(365.25, 2.2, 0.01)], 2.0, 0.5)
    assert found.stands_out
    assert found.leaves_in_days == pytest.approx(0.3 / 0.2 * 365.25)
    assert found.earliest_days < found.leaves_in_days
    assert all(cause in found.sentence for cause in POSSIBLE_CAUSES)
    assert "Possible causes to ask about" in found.sentence


def test_a_difference_within_the_doubt_is_no_drift_and_gives_no_date():
    found = drift_of([TripRecord(0, 2.0, 0.2), TripRecord(365, 2.1, 0.2)], 2.0, 0.5)
    assert not found.stands_out
    assert found.leaves_in_days is None
    assert "No drift stands out" in found.sentence


def test_a_trip_point_outside_its_tolerance_already_leaves_at_once():
    found = drift_of([TripRecord(0, 2.0, 0.01), TripRecord(365, 3.0, 0.01)], 2.0, 0.5)
    assert found.leaves_in_days == 0.0


def test_a_difference_of_two_jobs_carries_the_doubt_of_both():
    difference, sigma = difference_of(TripRecord(0, 2.0, 0.3), TripRecord(1, 2.5, 0.4))
    assert (difference, sigma) == (0.5, pytest.approx(0.5))


@pytest.mark.parametrize(
    "jobs", [[], [TripRecord(0, 2, 0.1)], [TripRecord(5, 2, 0.1), TripRecord(5, 3, 0.1)]]
)
def test_less_than_two_days_make_no_drift(jobs):
    with pytest.raises(BadDefinition, match="two jobs on different days"):
        drift_of(jobs, 2.0, 0.5)


@pytest.mark.parametrize("bad", [(float("nan"), 2, 0.1), (0, float("inf"), 0.1), (0, 2, 0.0), (0, 2, -0.1)])
def test_a_record_that_is_none_is_refused(bad):
    with pytest.raises(BadDefinition):
        TripRecord(*bad)
