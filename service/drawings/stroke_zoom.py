"""The last moments of a rehearsed stroke, drawn larger: circuit opens, drop-out, coast, and what is left."""

from collections.abc import Callable

from service.domain.motion import Motion, motion_of
from service.domain.rehearsal import Event, Rehearsal, Stroke
from service.domain.stroke_zones import end_of
from service.drawings.svg import line, polyline, rect, text

LEFT, RIGHT = 90.0, 560.0
HEIGHT = 190.0
EDGE = 14.0
_WORDS = {
    "circuit_opens": "circuit opens",
    "drop_out": "no current",
    "standstill": "stands still",
    "end": "hard stop",
}
At = Callable[[float], float]


def draw_zoom(stroke: Stroke, done: Rehearsal, top: float) -> str:
    """Return the last moments of a stroke below `top`; nothing where the valve does not coast."""
    opened, last = done.time_of("circuit_opens"), done.events[-1].t_s
    if opened is None or not done.coast_pct:
        return ""
    coast = last - opened.t_s
    start, end = opened.t_s - 0.35 * coast, last + 0.25 * coast
    moving = _Moving(stroke, opened.t_s)
    x, y = _across(start, end), moving.heights(start, top)
    times = [start + (end - start) * number / 100 for number in range(101)]
    hard_stop = end_of(stroke.direction)
    drawn = [
        rect(LEFT, top, RIGHT - LEFT, HEIGHT, "card"),
        line(LEFT, y(hard_stop), RIGHT, y(hard_stop), "heavy"),
        text(LEFT + 6, y(hard_stop) + (-5 if moving.closing else 15), f"hard stop, {hard_stop:g} %", "small"),
        polyline([(x(t_s), y(moving.travel(t_s))) for t_s in times], "heavy"),
        text(LEFT, top - 10, "The last moments, drawn larger", "bold"),
        text(LEFT, top + HEIGHT + 20, f"{start:.2f} s", "soft small"),
        text(RIGHT, top + HEIGHT + 20, f"{end:.2f} s", "soft small", "end"),
    ]
    drawn += [_label(event, x, y, closing=moving.closing) for event in done.events if event.kind in _WORDS]
    return "".join(drawn)


class _Moving:
    """The movement of a stroke whose motor's circuit opened at a time in seconds."""

    def __init__(self, stroke: Stroke, open_s: float) -> None:
        plain = motion_of(stroke.motor, stroke.scale)
        self.motion = Motion(plain.speed, plain.start_s, plain.drop_out_s, plain.deceleration, open_s)
        self.closing = stroke.direction == "closed"
        self.start_pct = stroke.start_pct
        self.end_pct = end_of(stroke.direction)

    def travel(self, t_s: float) -> float:
        """Return the travel in percent at a time in seconds, the hard stop not passed."""
        moved = self.motion.moved_at(t_s)
        return max(0.0, self.start_pct - moved) if self.closing else min(100.0, self.start_pct + moved)

    def heights(self, from_s: float, top: float) -> At:
        """Return the function from travel to height; the hard stop lies where the valve moves to."""
        far = abs(self.travel(from_s) - self.end_pct) or 1.0

        def at(pct: float) -> float:
            inset = EDGE + abs(pct - self.end_pct) / far * (HEIGHT - 2 * EDGE)
            return top + HEIGHT - inset if self.closing else top + inset

        return at


def _across(start: float, end: float) -> At:
    return lambda t_s: LEFT + (t_s - start) / (end - start) * (RIGHT - LEFT)


def _label(event: Event, x: At, y: At, *, closing: bool) -> str:
    """Return the mark and the words of one event; the drop-out stands on the other side of the curve."""
    at, height = x(event.t_s), y(event.travel_pct)
    mark = line(at, height - 5, at, height + 5, "here")
    if event.kind == "drop_out":
        return mark + text(at - 5, height + (20 if closing else -10), _WORDS[event.kind], "small", "end")
    return mark + text(at + 5, height + (-8 if closing else 18), _WORDS[event.kind], "small")
