"""The table of outside checks is whole: every area that the trade's computations promise has its checks."""

import pytest

from tests.documents.sources_table import AREAS, checks, table

LEAST = {"chart": 4, "circuits": 4, "gates": 4, "scale": 4, "motion": 4, "statistics": 4, "speech": 4}


@pytest.fixture(scope="module")
def found():
    return checks()


@pytest.mark.parametrize("area", LEAST)
def test_each_area_is_checked_against_the_outside_at_least_so_often(found, area):
    assert len({check.name for check in found if check.area == area}) >= LEAST[area]


def test_at_least_forty_distinct_tests_compare_with_the_outside(found):
    assert len({check.name for check in found if check.area in LEAST}) >= 40


def test_every_check_names_its_source(found):
    assert [check for check in found if len(check.source) < 8] == []


def test_every_check_of_the_trade_says_how_sure_its_source_is(found):
    trade = {"chart", "circuits", "scale", "motion", "statistics"}
    assert [check for check in found if check.area in trade and check.confidence == "-"] == []


def test_the_printed_table_lists_each_check_under_its_area(found):
    printed = table(found)
    assert all(check.name in printed for check in found)
    assert f"{len(found)} checks" in printed
    assert {check.area for check in found} <= {*AREAS, "other"}
