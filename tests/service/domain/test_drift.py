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
    trips = np.array([job.trip_pct for job in jobs]) * weights
    fitted = np.linalg.lstsq(design, trips, rcond=None)[0]
    slope, freedom = fitted[0] / 100, len(jobs) - 2
    birge = max(1.0, (((design @ fitted - trips) ** 2).sum() / freedom) ** 0.5) if freedom else 1.0
    covariance = birge * np.linalg.inv(design.T @ design)[0, 0] ** 0.5 / 100
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
    assert "outside its tolerance" in found.sentence


def test_a_trip_point_set_anew_starts_a_new_stretch_of_the_same_slope():
    drifts = [
        TripRecord(0, 1.50, 0.02),
        TripRecord(400, 1.90, 0.02, left_pct=1.50),
        TripRecord(800, 1.90, 0.02, left_pct=1.50),
        TripRecord(1200, 1.90, 0.02),
    ]
    found = drift_of(drifts, 1.5, 0.5)
    assert found.pct_a_year == pytest.approx(0.4 / 400 * 365.25)
    assert found.now_pct == pytest.approx(1.90)
    assert found.leaves_in_days == pytest.approx(0.1 / (0.4 / 400))
    naive = drift_of([TripRecord(one.day, one.trip_pct, one.sigma_pct) for one in drifts], 1.5, 0.5)
    assert naive.pct_a_year < found.pct_a_year / 2


@given(st.lists(st.booleans(), min_size=3, max_size=8), st.floats(-0.002, 0.002))
def test_any_drift_is_found_again_whatever_was_set_anew_on_the_way(anew, slope):
    at, jobs = 2.0, []
    for number, reset in enumerate(anew):
        jobs.append(TripRecord(100.0 * number, at, 0.05, left_pct=2.0 if reset else None))
        at = (2.0 if reset else at) + 100.0 * slope
    assert drift_of(jobs, 2.0, 1.0).pct_a_year == pytest.approx(slope * 365.25, abs=1e-9)


def test_a_trip_point_set_anew_at_the_last_job_is_judged_from_where_it_was_left():
    found = drift_of([TripRecord(0, 2.0, 0.01), TripRecord(100, 2.4, 0.01, left_pct=2.0)], 2.0, 0.5)
    assert found.now_pct == 2.0
    assert found.leaves_in_days == pytest.approx(125)


@pytest.mark.outside(
    source="PDG, Review of Particle Physics, 5.2.2: scale factor S = sqrt(chi^2 / (N - 1)) widens the doubt; memory",
    confidence="M",
)
def test_scatter_beyond_the_stated_doubt_widens_it():
    level = [TripRecord(100.0 * n, 2.0 + 0.1 * (-1) ** n, 0.02) for n in range(6)]
    found = drift_of(level, 2.0, 0.5)
    assert found.widened > 4
    assert not found.stands_out
    assert "times as much as stated" in found.sentence


def test_two_jobs_are_said_to_make_a_line_through_anything():
    two = drift_of([TripRecord(0, 2.0, 0.01), TripRecord(365, 2.2, 0.01)], 2.0, 0.5)
    assert "a third tells whether it goes on" in two.sentence


def test_temperatures_are_told_beside_the_possible_causes_and_blamed_for_nothing():
    jobs = [TripRecord(0, 2.0, 0.01, temperature_c=5), TripRecord(365, 2.3, 0.01, temperature_c=31)]
    assert "5 to 31 °C, up to 26 apart" in drift_of(jobs, 2.0, 0.5).sentence
    assert "cannot be told apart" in drift_of([jobs[0], TripRecord(365, 2.3, 0.01)], 2.0, 0.5).sentence


def test_a_difference_of_two_jobs_carries_the_doubt_of_both():
    difference, sigma = difference_of(TripRecord(0, 2.0, 0.3), TripRecord(1, 2.5, 0.4))
    assert (difference, sigma) == (0.5, pytest.approx(0.5))


def test_what_is_found_is_compared_with_what_was_left():
    difference, _ = difference_of(TripRecord(0, 2.0, 0.3, left_pct=1.5), TripRecord(1, 2.5, 0.4))
    assert difference == 1.0


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
