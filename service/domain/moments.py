"""When something was made, by the clocks of its device; how far apart two moments are, and how surely.

One boot of a device counts by its monotonic clock, which nobody sets; between boots and devices only the wall clocks
are left, and these are set by people and networks.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from service.domain.entries import Entry
from service.domain.instants import instant

SAME_BOOT_SIGMA_S = 0.01
"""Doubt between two moments of one boot: the clock's own reading; from memory."""
SAME_DEVICE_SIGMA_S = 0.25
"""Doubt between two moments of one device by its wall clock, which may have been set in between; from memory."""
OTHER_DEVICE_SIGMA_S = 1.0
"""Doubt between the wall clocks of two devices that are set by a network; from memory, a site confirms."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment of one device: wall clock in seconds since 1970, monotonic clock in seconds with its boot."""

    device: str
    wall_s: float
    boot: str | None = None
    monotonic_s: float | None = None

    def moved(self, seconds: float) -> "Moment":
        """Return the moment that lies so many seconds later."""
        later = None if self.monotonic_s is None else self.monotonic_s + seconds
        return Moment(self.device, self.wall_s + seconds, self.boot, later)

    @property
    def line(self) -> tuple[str, str | None]:
        """What shares one monotonic clock: a device's boot; a device alone where no boot is stated."""
        return self.device, self.boot if self.monotonic_s is not None else None


def moment_of(entry: Entry) -> Moment | None:
    """Return when an item was made; None where its device gave no time."""
    made = instant(entry.device_time) if entry.device_time else None
    if made is None or entry.device is None:
        return None
    known = entry.boot_id is not None and entry.monotonic_ns is not None
    monotonic = entry.monotonic_ns / 1e9 if known and entry.monotonic_ns is not None else None
    return Moment(entry.device, made.timestamp(), entry.boot_id if known else None, monotonic)


def on_one_scale(moments: Iterable[Moment]) -> Mapping[Moment, float]:
    """Return each moment in seconds on one scale: wall clocks, within one boot run on by the monotonic clock.

    The first moment of a boot ties its line to the wall clock, whatever the order in which moments are given, so that
    a wall clock that was set meanwhile changes no distance within the boot.
    """
    given = list(moments)
    first: dict[tuple[str, str | None], Moment] = {}
    for moment in sorted(given, key=lambda one: (one.monotonic_s or 0.0, one.wall_s)):
        if moment.monotonic_s is not None:
            first.setdefault(moment.line, moment)
    return {moment: _at(moment, first.get(moment.line)) for moment in given}


def clock_sigma(one: Moment, other: Moment) -> float:
    """Return the standard deviation in seconds that the clocks add to the distance of two moments."""
    if one.device != other.device:
        return OTHER_DEVICE_SIGMA_S
    same = one.monotonic_s is not None and one.line == other.line
    return SAME_BOOT_SIGMA_S if same else SAME_DEVICE_SIGMA_S


def _at(moment: Moment, first: Moment | None) -> float:
    if first is None or first.monotonic_s is None or moment.monotonic_s is None:
        return moment.wall_s
    return first.wall_s + (moment.monotonic_s - first.monotonic_s)
