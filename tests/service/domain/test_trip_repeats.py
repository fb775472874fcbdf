"""Whether a trip repeats well enough, and when the counts are too few to tell."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t

from service.domain.refusals import BadDefinition
from service.domain.trip_repeats import around_their_mean, judge_counts

counts = st.lists(st.floats(-100, 100), min_size=2, max_size=12)


@pytest.mark.outside(source="JCGM 100:2008 F.2.2.1: a step d has u = 0.29 d; from memory", confidence="M")
def test_counts_that_agree_to_the_step_are_no_surer_than_the_step():
    found = judge_counts([35.5] * 40, "turns", 0.25, 1.0)
    assert found.repeat.spread == 0
    two_sided = 2.042 * (1 + 1 / 40) ** 0.5
    assert found.next_within / two_sided == pytest.approx(0.29 * 0.25, abs=5e-4)


@pytest.mark.outside(source="scipy.stats.t, a second implementation of Student's t", confidence="C")
@given(counts)
def test_the_next_count_lies_within_the_prediction_interval_of_another_library(given_counts):
    found = judge_counts(given_counts, "turns", 0.0, 5.0)
    number = len(given_counts)
    quantile = t.ppf(0.975, number - 1)
    expected = quantile * found.repeat.spread * (1 + 1 / number) ** 0.5
    assert found.next_within == pytest.approx(expected, rel=2e-4, abs=1e-12)


@pytest.mark.parametrize(
    ("given_counts", "read_to", "standing"),
    [
        ([35.5], 0.25, "cannot_tell"),
        ([35.5, 35.5], 0.25, "cannot_tell"),
        ([35.5, 35.5, 35.5], 0.01, "repeats"),
        ([35.5, 35.6, 35.4, 35.5, 35.5], 0.05, "repeats"),
        ([35.5, 36.5], 0.25, "does_not_repeat"),
        ([35.5, 36.2], 0.5, "cannot_tell"),
    ],
)
def test_few_or_coarse_counts_are_not_told_for_sure(given_counts, read_to, standing):
    assert judge_counts(given_counts, "turns", read_to, 0.3).standing == standing


@given(counts, st.floats(0, 1), st.floats(0.01, 10))
def test_more_tolerance_never_makes_a_trip_repeat_worse(given_counts, read_to, tolerance):
    order = {"does_not_repeat": 0, "cannot_tell": 1, "repeats": 2}
    narrow = judge_counts(given_counts, "turns", read_to, tolerance).standing
    wide = judge_counts(given_counts, "turns", read_to, 2 * tolerance).standing
    assert order[wide] >= order[narrow]


def test_marks_around_the_top_of_the_rim_lie_close_together():
    found = judge_counts(around_their_mean([355, 5, 358]), "degrees", 1.0, 20.0)
    assert found.repeat.most - found.repeat.least == pytest.approx(10)


def test_marks_all_around_the_rim_have_no_mean():
    with pytest.raises(BadDefinition, match="all around the rim"):
        around_their_mean([0, 180])


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        (([], 0.1, 1.0), "counts"),
        (([1, float("nan")], 0.1, 1.0), "counts[1]"),
        (([1, 2], -0.1, 1.0), "read_to"),
        (([1, 2], 0.1, float("inf")), "tolerance"),
        (([1, 2], 0.1, 0.0), "tolerance"),
    ],
)
def test_a_figure_that_is_none_is_refused_at_its_field(arguments, field):
    with pytest.raises(BadDefinition) as caught:
        judge_counts(arguments[0], "turns", *arguments[1:])
    assert caught.value.field == field
