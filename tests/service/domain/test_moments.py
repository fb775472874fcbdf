"""When something was made: by the monotonic clock within one boot, by wall clocks with their doubt otherwise."""

from hypothesis import given
from hypothesis import strategies as st

from service.domain.entries import NewEntry
from service.domain.moments import Moment, clock_sigma, moment_of, on_one_scale

NOON = "2031-05-06T12:00:00Z"


def item(**more):
    return NewEntry("statement_made", {"step": "s"}, device="phone", device_time=NOON, **more).sealed(
        3, NOON, "h"
    )


def test_an_item_without_a_time_has_no_moment():
    assert moment_of(NewEntry("statement_made", {}, device="phone").sealed(1, NOON, "h")) is None


def test_the_monotonic_clock_counts_only_with_its_boot():
    assert moment_of(item(monotonic_ns=5)).monotonic_s is None
    assert moment_of(item(boot_id="b", monotonic_ns=5_000_000_000)).monotonic_s == 5


def test_a_wall_clock_that_was_set_changes_nothing_within_one_boot():
    first, later = Moment("phone", 1000.0, "b", 10.0), Moment("phone", 400.0, "b", 95.0)
    scale = on_one_scale([later, first])
    assert scale[later] - scale[first] == 85.0


@given(st.permutations([Moment("phone", 1000.0 + 7 * n, "b", 10.0 * n) for n in range(6)]))
def test_the_scale_does_not_depend_on_the_order_of_arrival(moments):
    assert on_one_scale(moments) == on_one_scale(sorted(moments, key=lambda one: one.wall_s))


def test_other_boots_and_devices_are_less_sure():
    one = Moment("phone", 0.0, "b", 1.0)
    sure = clock_sigma(one, Moment("phone", 5.0, "b", 6.0))
    rebooted = clock_sigma(one, Moment("phone", 5.0, "c", 6.0))
    other = clock_sigma(one, Moment("watch", 5.0, "b", 6.0))
    assert sure < rebooted < other
