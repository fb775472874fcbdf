"""The time line of a job: the device's clock above, the service's clock below, and what came late.

A device's clock may be hours off. Its usual difference from the service's clock is stated and taken out of
the drawing, so that what hangs slanted there is an item that came late, not a clock that was wrong.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape
from statistics import median

from service.domain.entries import Entry
from service.package.report_marks import FONT

LATE_S = 60.0
"""An item that came this many seconds after the usual delay of its device is drawn and listed as late."""

CLOCK_OFF_S = 300.0
"""A device clock that differs by more than this from the service's is said to be off."""


@dataclass(frozen=True)
class DeviceClock:
    """One device's clock: its usual difference from the service's (s, device minus service), late items."""

    device: str
    offset_s: float
    late: tuple[int, ...]


def instant(text: str | None) -> datetime | None:
    """Return the instant of an RFC 3339 text; None where Python cannot tell it, as for a leap second."""
    try:
        found = datetime.fromisoformat(text) if text else None
    except ValueError:
        return None
    return found if found is not None and found.tzinfo is not None else None


def to_the_second(text: str | None) -> str:
    """Return an RFC 3339 time as it is shown in tables: a blank for the T, fractions of a second left out."""
    return re.sub(r"\.\d+", "", text or "").replace("T", " ")


def device_clocks(entries: Iterable[Entry]) -> list[DeviceClock]:
    """Return the clock of every device that made an item, in the order of their names."""
    behind: dict[str, list[tuple[int, float]]] = {}
    for entry in entries:
        made, came = instant(entry.device_time), instant(entry.received)
        if entry.device is not None and made is not None and came is not None:
            behind.setdefault(entry.device, []).append((entry.seq, (made - came).total_seconds()))
    return [_clock(device, differences) for device, differences in sorted(behind.items())]


def _clock(device: str, differences: Sequence[tuple[int, float]]) -> DeviceClock:
    usual = median(difference for _, difference in differences)
    late = tuple(seq for seq, difference in differences if usual - difference > LATE_S)
    return DeviceClock(device, usual, late)


def in_words(seconds: float) -> str:
    """Return a difference of clocks in words: days, hours and minutes where it is large."""
    size = abs(seconds)
    for unit, name in ((86400, "days"), (3600, "hours"), (60, "minutes")):
        if size >= 2 * unit:
            return f"{size / unit:.1f} {name}"
    return f"{size:.1f} seconds"


def time_line(entries: Sequence[Entry]) -> str:
    """Draw the two rails as SVG; every entry is a tick below, every item a tie to where it was made above."""
    came = [(entry, found) for entry in entries if (found := instant(entry.received)) is not None]
    if not came:
        return ""
    offsets = {clock.device: clock for clock in device_clocks(entries)}
    made = {
        entry.seq: found.timestamp() - offsets[entry.device].offset_s
        for entry, _ in came
        if entry.device is not None and (found := instant(entry.device_time)) is not None
    }
    times = [*(found.timestamp() for _, found in came), *made.values()]
    first, last = min(times), max(times)
    span = max(last - first, 1.0)

    def x(at: float) -> float:
        return round(20 + 960 * (at - first) / span, 1)

    late = {seq for clock in offsets.values() for seq in clock.late}
    ticks = "".join(_tick(entry, x(found.timestamp())) for entry, found in came)
    ties = "".join(
        _tie(entry, x(made[entry.seq]), x(found.timestamp()), late=entry.seq in late)
        for entry, found in came
        if entry.seq in made
    )
    start, end = (escape(text) for text in (came[0][0].received, came[-1][0].received))
    return (
        '<svg class="timeline" viewBox="0 0 1000 150" role="img" aria-label="Time line"'
        f" {FONT}>"
        '<text x="20" y="12">device clocks, their usual difference taken out</text>'
        '<path d="M20 30H980M20 100H980" stroke="currentColor" stroke-width="2"/>'
        f'{ties}{ticks}<text x="20" y="146">service clock, from {start}</text>'
        f'<text x="980" y="146" text-anchor="end">to {end}</text></svg>'
    )


def _tick(entry: Entry, x: float) -> str:
    heavy = entry.kind in {"step_passed", "hold_point_released", "gate_held", "work_stopped", "work_resumed"}
    length = 24 if heavy else 10
    title = escape(f"{entry.seq}: {entry.kind.replace('_', ' ')}, {entry.received}")
    return (
        f'<path d="M{x} 100v{length}" stroke="currentColor" stroke-width="1.5"><title>{title}</title></path>'
    )


def _tie(entry: Entry, above: float, below: float, *, late: bool) -> str:
    dashes = ' stroke-dasharray="4 3"' if late else ""
    width = 2 if late else 0.7
    anchor = "start" if above < 100 else "end" if above > 900 else "middle"
    label = f'<text x="{above}" y="26" text-anchor="{anchor}">late: {entry.seq}</text>' if late else ""
    return f'<path d="M{above} 30L{below} 100" stroke="currentColor" stroke-width="{width}"{dashes}/>{label}'
