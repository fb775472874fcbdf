"""Kappa, Wilson and dependence of checkers, against published tables and other libraries."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from service.domain.agreement import (
    checker_of_maintenance,
    kappa_interval,
    kappa_of,
    kappa_of_table,
    missed_by_both,
    missed_by_second,
    most_with_none_seen,
    wilson_interval,
    worth_of_second_look,
)
from service.domain.refusals import BadDefinition

answers = st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from("abc")), min_size=1, max_size=40)


@pytest.mark.outside(source="scikit-learn documentation example of Cohen's kappa: 0.6875", confidence="C")
def test_kappa_of_the_documented_example():
    first, second = ["neg", "pos", "neg", "neu", "pos"], ["neg", "pos", "neg", "neu", "neg"]
    assert kappa_of(first, second).kappa == pytest.approx(0.6875)


@pytest.mark.outside(source="encyclopaedia examples of Cohen's kappa: 0.4000, 0.1304, 0.2593", confidence="C")
@pytest.mark.parametrize(
    ("table", "kappa"),
    [([[20, 5], [10, 15]], 0.4000), ([[45, 15], [25, 15]], 0.1304), ([[25, 35], [5, 35]], 0.2593)],
)
def test_kappa_of_the_encyclopaedias_tables(table, kappa):
    assert kappa_of_table(table).kappa == pytest.approx(kappa, abs=5e-5)


@pytest.mark.outside(
    source="statsmodels 0.15.0, cohens_kappa of [[20, 5], [10, 15]]: ASE 0.1270, 0.1511 to 0.6489",
    confidence="C",
)
def test_the_interval_of_kappa_is_that_of_another_library():
    low, high = kappa_interval([[20, 5], [10, 15]])
    assert (low, high) == (pytest.approx(0.1511, abs=5e-5), pytest.approx(0.6489, abs=5e-5))
    assert (high - low) / 2 / 1.959964 == pytest.approx(0.1270, abs=5e-5)


@pytest.mark.parametrize("table", [[[9, 0], [0, 7]], [[8, 0], [0, 0]]])
def test_where_all_agree_no_interval_is_given_since_it_would_have_no_width(table):
    assert kappa_interval(table) is None


@pytest.mark.outside(source="statsmodels 0.15.0, cohens_kappa of [[40, 9], [6, 45]]: 0.6995", confidence="C")
def test_kappa_of_a_computed_table():
    assert kappa_of_table([[40, 9], [6, 45]]).kappa == pytest.approx(0.6995, abs=5e-5)


@pytest.mark.outside(
    source="scikit-learn 1.9.1: weighted kappa 0.428571 linear, 0.636364 quadratic", confidence="C"
)
def test_weighted_kappa_counts_a_near_miss_less():
    first, second = list("0122"), list("0221")
    assert kappa_of(first, second, "linear").kappa == pytest.approx(0.428571, abs=5e-7)
    assert kappa_of(first, second, "quadratic").kappa == pytest.approx(0.636364, abs=5e-7)


@pytest.mark.outside(
    source="scikit-learn 1.9.1: one answer throughout has no kappa (nan, not 1) (X6)", confidence="C"
)
def test_one_answer_throughout_has_no_kappa():
    found = kappa_of(["closed"] * 8, ["closed"] * 8)
    assert (found.kappa, found.agreed_share, found.band) == (None, 1.0, "does not exist")


@pytest.mark.outside(source="scikit-learn 1.9.1: one rater constant, 9 of 10 agree, kappa 0", confidence="C")
def test_a_rater_who_always_says_the_same_adds_nothing():
    assert kappa_of(["a"] * 10, ["a"] * 9 + ["b"]).kappa == 0


@given(answers)
def test_kappa_is_what_comparing_everybody_with_everybody_gives(pairs):
    first, second = zip(*pairs, strict=True)
    seen = sum(one == other for one, other in pairs) / len(pairs)
    by_chance = sum(one == other for one in first for other in second) / len(pairs) ** 2
    found = kappa_of(first, second)
    assert found.agreed_share == pytest.approx(seen)
    if by_chance == 1:
        assert found.kappa is None
    else:
        assert found.kappa == pytest.approx((seen - by_chance) / (1 - by_chance), abs=1e-9)


@pytest.mark.outside(source="Landis and Koch 1977, bands of kappa", confidence="V2")
@pytest.mark.parametrize(
    ("table", "band"),
    [([[0, 5], [5, 0]], "poor"), ([[45, 15], [25, 15]], "slight"), ([[20, 5], [10, 15]], "fair"),
     ([[40, 9], [6, 45]], "substantial"), ([[50, 1], [1, 48]], "almost perfect")],
)  # fmt: skip
def test_the_word_for_a_kappa(table, band):
    assert kappa_of_table(table).band == band


@pytest.mark.outside(source="Newcombe 1998, Table I, Wilson score interval", confidence="C")
@pytest.mark.parametrize(
    ("agreed", "judged", "low", "high"),
    [
        (81, 263, 0.255289, 0.366210),
        (15, 148, 0.062386, 0.160487),
        (0, 20, 0, 0.161125),
        (1, 29, 0.006113, 0.171755),
    ],
)
def test_wilson_intervals_of_the_published_table(agreed, judged, low, high):
    assert wilson_interval(agreed, judged) == pytest.approx((low, high), abs=5e-7)


@pytest.mark.outside(source="statsmodels 0.15.0, Wilson intervals at the edges", confidence="C")
@pytest.mark.parametrize(
    ("agreed", "judged", "low", "high"),
    [(0, 10, 0, 0.277533), (10, 10, 0.722467, 1), (29, 29, 0.883030, 1), (48, 50, 0.865399, 0.988961),
     (0, 300, 0, 0.012643)],
)  # fmt: skip
def test_wilson_intervals_at_the_edges(agreed, judged, low, high):
    assert wilson_interval(agreed, judged) == pytest.approx((low, high), abs=5e-7)


@pytest.mark.outside(source="Wilson of 0 of 0 is no data (X6)", confidence="C")
def test_nothing_judged_is_no_data():
    assert wilson_interval(0, 0) is None


@pytest.mark.outside(
    source="scipy.stats.binomtest, a second implementation of Wilson's interval", confidence="C"
)
@given(st.integers(1, 400), st.floats(0, 1))
def test_wilson_is_that_of_another_library(judged, share):
    agreed = round(share * judged)
    other = binomtest(agreed, judged).proportion_ci(method="wilson")
    assert wilson_interval(agreed, judged) == pytest.approx((other.low, other.high), abs=1e-12)


@pytest.mark.outside(
    source="zero failures: 59 trials give 0.049508, 299 at 95 % 0.009969, 300 0.009936", confidence="C"
)
@pytest.mark.parametrize(("trials", "most"), [(59, 0.049508), (299, 0.009969), (300, 0.009936)])
def test_none_missed_in_so_many_trials_still_allows_some(trials, most):
    assert most_with_none_seen(trials) == pytest.approx(most, abs=5e-7)


@pytest.mark.outside(
    source="NUREG/CR-1278 Table 20-17, worked values of the dependence formulas",
    confidence="M for the formulas",
)
@pytest.mark.parametrize(
    ("alone", "low", "moderate", "high"),
    [(0.001, 0.05095, 0.143714, 0.5005), (0.01, 0.0595, 0.151429, 0.505), (0.1, 0.145, 0.228571, 0.55)],
)
def test_a_second_checker_who_relies_on_the_first_misses_far_more(alone, low, moderate, high):
    found = [missed_by_second(alone, level) for level in ("zero", "low", "moderate", "high", "complete")]
    assert found == pytest.approx([alone, low, moderate, high, 1.0], abs=5e-7)


@pytest.mark.outside(
    source="NUREG/CR-1278 Table 20-22 items 2 and 10: 0.2 halved for maintenance (H6, H7)",
    confidence="V2",
)
def test_a_checker_of_maintenance_without_written_material_misses_one_in_ten():
    assert checker_of_maintenance(0.2) == 0.1


@given(st.floats(1e-6, 1), st.floats(1e-6, 0.999))
def test_multiplying_two_checkers_as_if_independent_is_never_too_pessimistic(first, second):
    levels = [
        missed_by_both(first, second, level) for level in ("zero", "low", "moderate", "high", "complete")
    ]
    assert levels == sorted(levels)
    assert levels[0] == pytest.approx(first * second)


def test_the_worth_of_a_second_look_is_kappa_and_an_interval():
    kappa, interval = worth_of_second_look([("closed", "closed")] * 9 + [("open", "closed")])
    assert kappa.agreed_share == 0.9
    assert interval == wilson_interval(9, 10)
    assert not math.isnan(kappa.kappa)


@pytest.mark.parametrize("table", [[], [[1, 2]], [[1, -1], [0, 1]], [[0, 0], [0, 0]]])
def test_a_table_that_is_none_is_refused(table):
    with pytest.raises(BadDefinition):
        kappa_of_table(table)


@pytest.mark.parametrize(("agreed", "judged"), [(3, 2), (-1, 2)])
def test_a_share_that_is_none_is_refused(agreed, judged):
    with pytest.raises(BadDefinition, match="is no share"):
        wilson_interval(agreed, judged)


@pytest.mark.parametrize("bad", [-0.1, 1.1, float("nan")])
def test_a_probability_outside_0_to_1_is_refused(bad):
    with pytest.raises(BadDefinition):
        missed_by_second(bad, "low")


def test_people_who_judged_different_numbers_of_things_are_not_compared():
    with pytest.raises(BadDefinition, match="the same things"):
        kappa_of(["a"], ["a", "b"])
    with pytest.raises(BadDefinition, match="no trial"):
        most_with_none_seen(0)
