"""Repeatability of trips, and means of directions, against textbooks and other libraries."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.domain.refusals import BadDefinition
from service.domain.repeatability import (
    axis_difference,
    from_whole_turns,
    mean_axis,
    mean_direction,
    repeat_of,
    t_quantile_95,
)

angles = st.lists(st.floats(-720, 720), min_size=1, max_size=12)


@pytest.mark.outside(source="circular mean of 355, 5 and 15 degrees is 5 (A2)", confidence="C")
def test_marks_around_the_top_of_the_rim_have_their_mean_there():
    assert mean_direction([355, 5, 15]).mean_deg == pytest.approx(5)


@pytest.mark.outside(
    source="scipy documentation, circmean of 0.1, 2 pi + 0.2, 6 pi + 0.3 (A1)", confidence="C"
)
def test_whole_turns_more_do_not_move_the_mean():
    marks = [math.degrees(0.1), math.degrees(2 * math.pi + 0.2), math.degrees(6 * math.pi + 0.3)]
    assert math.radians(mean_direction(marks).mean_deg) == pytest.approx(0.2)


@pytest.mark.outside(
    source="axial means: 179 1 3 give 1; 10 and 170, 1 and 179 give 0 (A3, A4)", confidence="C"
)
@pytest.mark.parametrize(("axes", "mean"), [([179, 1, 3], 1.0), ([10, 170], 0.0), ([1, 179], 0.0)])
def test_axes_have_a_mean_of_period_180(axes, mean):
    assert axis_difference(mean_axis(axes).mean_deg, mean) == pytest.approx(0, abs=1e-9)


@pytest.mark.outside(
    source="axial distance of 179 and 1 degrees is 2, the greatest possible 90 (A5)", confidence="C"
)
def test_axes_are_never_more_than_ninety_degrees_apart():
    assert axis_difference(179, 1) == 2
    assert axis_difference(0, 90) == 90


@pytest.mark.outside(source="opposite directions, and perpendicular axes, have no mean (A6)", confidence="C")
def test_where_directions_cancel_out_there_is_no_mean():
    assert mean_direction([0, 180]).mean_deg is None
    assert mean_axis([0, 90]).mean_deg is None


@pytest.mark.outside(
    source="Zar, Biostatistical Analysis, example 26.4: 99, 0.82522, 34, 36 (A9)", confidence="V2"
)
def test_a_textbook_sample_has_its_mean_its_resultant_and_its_deviations():
    found = mean_direction([45, 55, 81, 96, 110, 117, 132, 154])
    assert found.mean_deg == pytest.approx(98.988, abs=5e-4)
    assert found.resultant == pytest.approx(0.82522, abs=5e-6)
    assert found.angular_deviation_deg == pytest.approx(33.876, abs=5e-4)
    assert found.circular_deviation_deg == pytest.approx(35.515, abs=5e-4)


@pytest.mark.outside(
    source="Zar, Biostatistical Analysis, example 26.5, grouped: 162, 0.55064 (A10)", confidence="V2"
)
def test_a_grouped_textbook_sample_has_its_mean_and_resultant():
    found = mean_direction(list(range(45, 286, 30)), [6, 9, 13, 15, 22, 17, 12, 8, 3])
    assert found.mean_deg == pytest.approx(161.565, abs=5e-4)
    assert found.resultant == pytest.approx(0.550635, abs=5e-7)


@pytest.mark.outside(
    source="Zar, Biostatistical Analysis, example 26.7, doubled angles: 47.953 (A11)", confidence="C"
)
def test_a_bimodal_textbook_sample_has_its_axial_mean():
    axes = [35, 40, 40, 45, 45, 55, 60, 215, 220, 225, 225, 235, 235, 240, 245]
    found = mean_axis(axes)
    assert found.mean_deg == pytest.approx(47.953, abs=5e-4)
    assert found.resultant == pytest.approx(0.948433, abs=5e-7)


@pytest.mark.outside(source="scipy.stats.circmean, a second implementation", confidence="C")
@given(angles)
def test_the_mean_direction_is_that_of_another_library(degrees):
    found = mean_direction(degrees)
    if found.resultant > 1e-3:
        other = math.degrees(stats.circmean(np.radians(degrees)))
        assert abs((found.mean_deg - other + 180) % 360 - 180) < 1e-6


@pytest.mark.outside(source="scipy.stats.t, a second implementation of Student's t", confidence="C")
@pytest.mark.parametrize("freedom", range(1, 31))
def test_each_quantile_of_student_is_that_of_another_library(freedom):
    assert t_quantile_95(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), abs=5e-4)
    assert t_quantile_95(freedom + 30) >= stats.t.ppf(0.975, freedom + 30)


@given(st.lists(st.floats(-100, 100), min_size=2, max_size=12))
def test_mean_and_spread_are_those_of_numpy(counts):
    found = repeat_of(counts)
    assert found.mean == pytest.approx(np.mean(counts), abs=1e-9)
    assert found.spread == pytest.approx(np.std(counts, ddof=1), abs=1e-9)


def test_one_count_says_nothing_about_repeatability():
    found = repeat_of([12.5])
    assert (found.mean, found.spread, found.half_width) == (12.5, None, None)


def test_whole_turns_and_the_mark_on_the_rim_make_one_count():
    assert from_whole_turns([12, 12], [90, 180]) == [12.25, 12.5]


@pytest.mark.parametrize("bad", [[], [1.0, float("nan")], [float("inf")]])
def test_counts_that_are_none_are_refused(bad):
    with pytest.raises(BadDefinition):
        repeat_of(bad)
    with pytest.raises(BadDefinition):
        mean_direction(bad)


def test_weights_that_do_not_fit_are_refused():
    with pytest.raises(BadDefinition):
        mean_direction([10, 20], [1])
    with pytest.raises(BadDefinition):
        from_whole_turns([1], [10, 20])
    with pytest.raises(BadDefinition):
        t_quantile_95(0)
