import math

import pytest
from hypothesis import given
from hypothesis import strategies as some

from service.domain.stream_clock import DRIFT, StreamClock

delays = some.floats(0, 3)


@pytest.mark.outside(
    source="F. Cristian, Distributed Computing 3 (1989) 146-158: the error of a reading is at most half the round trip"
)
def test_one_question_tells_the_instant_to_half_its_round_trip():
    clock = StreamClock.begun(0.0).answered(asked=50.0, at=50.3, second=12.0)
    middle, half = clock.instant(12.0)
    assert half == pytest.approx(0.15)
    assert middle == pytest.approx(50.15)


@given(
    begun=delays,
    rate=some.floats(-DRIFT, DRIFT),
    told=some.lists(some.tuples(some.booleans(), some.floats(0, 600), delays, delays), max_size=12),
    second=some.floats(0, 600),
)
def test_the_true_instant_is_within_what_is_said_whatever_the_delays(begun, rate, told, second):
    true = 1000.0 + begun  # when the first sample was made; the stream was allowed to begin at 1000

    def instant(of: float) -> float:
        return true + of * (1 + rate)

    clock = StreamClock.begun(1000.0)
    for asked, at, out, back in told:
        if asked:
            clock = clock.answered(instant(at) - out, instant(at) + back, at)
        else:
            clock = clock.arrived(instant(at) + back, at)
    middle, half = clock.instant(second)
    assert abs(instant(second) - middle) <= half + 2e-6


@given(some.lists(some.tuples(some.floats(0, 600), delays), min_size=1, max_size=12))
def test_the_least_delayed_arrival_counts(arrivals):
    clock = StreamClock.begun(0.0)
    for at, late in arrivals:
        clock = clock.arrived(5.0 + at + late, at)
    assert clock.latest is not None
    least = min(late for _, late in arrivals)
    assert clock.latest.instant - clock.latest.second <= 5.0 + least + 600 * DRIFT + 1e-6


def test_before_anything_arrived_nothing_is_known():
    assert StreamClock.begun(7.0).instant(1.0)[1] == math.inf
