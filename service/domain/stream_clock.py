"""When a second of a stream was, on the service's clock, and how surely: bounds that every message tightens.

A sample cannot arrive before it was made: that bounds its instant from above. A device that answers "how much have
you recorded by now?" recorded that much between question and answer: that bounds it from both sides, and the nearer
the shorter the way (F. Cristian, "Probabilistic clock synchronization", Distributed Computing 3 (1989) 146-158).
"""

import math
from dataclasses import dataclass, replace

DRIFT = 100e-6
"""Greatest error of a sound card's rate against true seconds, as a share; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Bound:
    """An instant, in seconds of the service's clock, that sample second `second` is not before, or not after."""

    instant: float
    second: float

    def at(self, second: float, sign: int) -> float:
        """Return the same bound for another second of the stream, widened by the drift on the way there."""
        return self.instant + second - self.second + sign * DRIFT * abs(second - self.second)


@dataclass(frozen=True, slots=True)
class StreamClock:
    """What is known of the instants of a stream's seconds.

    `earliest` comes from the question that was answered last or, at the beginning, from the moment at which the stream
    was allowed to begin; `latest` from the least delayed arrival or answer.

    Examples
    --------
    >>> clock = StreamClock.begun(100.0).arrived(at=103.0, second=2.0).answered(asked=103.0, at=103.2, second=2.9)
    >>> clock.instant(2.5)
    (102.7, 0.10004)

    """

    earliest: Bound
    latest: Bound | None = None

    @classmethod
    def begun(cls, at: float) -> "StreamClock":
        """Return the clock of a stream that was allowed to begin at that instant."""
        return cls(Bound(at, 0.0))

    def arrived(self, at: float, second: float) -> "StreamClock":
        """Note that the sound up to `second` has arrived at `at`."""
        new = Bound(at, second)
        if self.latest is not None and self.latest.at(second, +1) <= at:
            return self
        return replace(self, latest=new)

    def answered(self, asked: float, at: float, second: float) -> "StreamClock":
        """Note that the device, asked at `asked`, answered at `at` that it had recorded up to `second`."""
        after = Bound(asked, second)
        later = self if self.earliest.at(second, -1) >= asked else replace(self, earliest=after)
        return later.arrived(at, second)

    def instant(self, second: float) -> tuple[float, float]:
        """Return the instant of a second of the stream and the half-width within which it surely is.

        Before anything has arrived the half-width is infinite.
        """
        low = self.earliest.at(second, -1)
        if self.latest is None:
            return low, math.inf
        high = self.latest.at(second, +1)
        return round((low + high) / 2, 6), round(abs(high - low) / 2, 6)
