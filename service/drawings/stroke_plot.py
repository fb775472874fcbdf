"""A rehearsed stroke as a picture: travel over time, each event with its doubt and in words."""

from collections.abc import Callable, Sequence
from itertools import groupby

from service.domain.motion import motion_of
from service.domain.rehearsal import Event, Rehearsal, Stroke
from service.domain.stroke import Mark
from service.drawings.stroke_zoom import HEIGHT, draw_zoom
from service.drawings.svg import document, line, polyline, rect, shortened, text

LEFT, RIGHT = 90.0, 560.0
TOP, BOTTOM = 90.0, 470.0
ZOOM_TOP = BOTTOM + 80.0
WORDS = 590.0
LINE = 20.0


def draw_stroke(valve: str, stroke: Stroke, done: Rehearsal, marks: Sequence[Mark] = ()) -> str:
    """Return the SVG of a rehearsed stroke: time to the right, travel upwards, events named at the right.

    `marks` are those of a real stroke, drawn as dotted lines from its start on; its own time scale is theirs too.
    """
    marked = _since_start(marks)
    last = max([event.t_s for event in done.events] + [t_s for t_s, _ in marked] + [1e-3])
    x = _along(last)
    end = "closed" if stroke.direction == "closed" else "open"
    title = f"{valve}: stroke towards {end}, rehearsed"
    rows = _rows(done) + _marked_rows(marked)
    zoom = draw_zoom(stroke, done, ZOOM_TOP)
    lowest = ZOOM_TOP + HEIGHT if zoom else BOTTOM + 40.0
    height = max(lowest + 110.0, TOP + len(rows) * LINE + 90.0)
    parts = [text(24, 36, title, "large"), text(24, 60, _outcome(stroke, done), "soft"), _frame(x, last)]
    parts.append(polyline(_curve(stroke, done, last, x), "heavy"))
    parts.append(zoom)
    parts += [_spot(event, x) for event in done.events]
    parts += [line(x(t_s), BOTTOM, x(t_s), TOP, "mark") for t_s, _ in marked if t_s >= 0]
    parts += [text(WORDS, TOP + number * LINE, words, kind) for number, (words, kind) in enumerate(rows)]
    parts.append(
        text(
            24,
            height - 40,
            "Predicted from stated figures, not seen. Bars show two standard deviations.",
            "soft small",
        )
    )
    parts.append(
        text(24, height - 20, "A dark lamp alone proves no stop: its contact is not the motor's. "
             "Local rules and the site permit come first.", "soft small")
    )  # fmt: skip
    return document(1080, height, title, " ".join(words for words, _ in rows), parts)


def _along(last: float) -> Callable[[float], float]:
    return lambda t_s: LEFT + t_s / (last * 1.05) * (RIGHT - LEFT)


def _up(pct: float) -> float:
    return BOTTOM - pct / 100.0 * (BOTTOM - TOP)


def _frame(x: Callable[[float], float], last: float) -> str:
    drawn = rect(LEFT, TOP, RIGHT - LEFT, BOTTOM - TOP, "card")
    for pct in range(0, 101, 10):
        drawn += line(LEFT, _up(pct), RIGHT, _up(pct)) + text(
            LEFT - 8, _up(pct) + 4, f"{pct} %", "soft small", "end"
        )
    step = _step(last)
    for number in range(int(last / step) + 1):
        at = x(number * step)
        drawn += line(at, BOTTOM, at, BOTTOM + 6, "thin")
        drawn += text(at, BOTTOM + 22, f"{number * step:g} s", "soft small", "middle")
    drawn += text(LEFT, TOP - 10, "open end", "bold") + text(LEFT, BOTTOM + 40, "closed end", "bold")
    return drawn


def _step(last: float) -> float:
    return next(step for step in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1e9) if last / step <= 8)


def _curve(
    stroke: Stroke, done: Rehearsal, last: float, x: Callable[[float], float]
) -> list[tuple[float, float]]:
    """Return the movement as points: the stated motion, its circuit opened where the rehearsal did."""
    opened = done.time_of("circuit_opens")
    plain = motion_of(stroke.motor, stroke.scale)
    motion = type(plain)(
        plain.speed, plain.start_s, plain.drop_out_s, plain.deceleration, opened.t_s if opened else None
    )
    way = 1.0 if stroke.direction == "open" else -1.0
    moving = done.stopped_by != "does not start"
    points = []
    for number in range(201):
        t_s = last * number / 200
        moved = motion.moved_at(t_s) if moving else 0.0
        points.append((x(t_s), _up(min(100.0, max(0.0, stroke.start_pct + way * moved)))))
    return points


def _spot(event: Event, x: Callable[[float], float]) -> str:
    at, y = x(event.t_s), _up(event.travel_pct)
    reach = x(2.0 * event.sigma_s) - LEFT
    return line(at - reach, y, at + reach, y, "here") + line(at, y - 5, at, y + 5, "here")


def _rows(done: Rehearsal) -> list[tuple[str, str]]:
    """Return the events in words, those of one moment on lines of their own under its time."""
    rows: list[tuple[str, str]] = []
    for (t_s, pct), events in groupby(
        done.events, key=lambda event: (round(event.t_s, 3), round(event.travel_pct, 3))
    ):
        together = list(events)
        rows.append((f"{t_s:.2f} s (± {2 * together[0].sigma_s:.2f}) at {pct:.2f} %", "bold"))
        rows += [(shortened(f"   {event.what}", 58), "ink") for event in together]
    return rows


def _since_start(marks: Sequence[Mark]) -> list[tuple[float, str]]:
    """Return the marks with their seconds since the one that marks the start; none where that one is missing."""
    start = next((mark.t_s for mark in marks if mark.what == "start"), None)
    if start is None:
        return []
    return sorted((mark.t_s - start, f"{mark.what} ({mark.how})") for mark in marks)


def _marked_rows(marked: Sequence[tuple[float, str]]) -> list[tuple[str, str]]:
    if not marked:
        return []
    rows = [(shortened(f"   {t_s:.1f} s: {words}", 58), "here-words") for t_s, words in marked]
    return [("", "soft"), ("Marked in a real stroke, dotted:", "bold"), *rows]


def _outcome(stroke: Stroke, done: Rehearsal) -> str:
    if done.left_pct is None:
        names = " and ".join(done.by_contacts)
        return f"The motor does not start: contact {names} is open." if names else "The motor does not start."
    if done.stopped_by == "torque":
        return "Stopped by the torque switch; the valve stands on its seat."
    if done.stopped_by == "nothing":
        return "Nothing stops the motor: it stalls against the hard stop."
    unit = "degrees" if stroke.scale.kind == "quarter_turn" else "mm"
    if done.overrun_pct > 0:
        over = stroke.scale.distance(done.overrun_pct)
        return f"Meets the hard stop with {over:.2f} {unit} of coast left: the limit trips too late."
    left, sigma = stroke.scale.distance(done.left_pct), stroke.scale.distance(done.left_sigma_pct)
    by = f"contact {' and '.join(done.by_contacts)}" if done.by_contacts else "the circuit"
    return f"Stopped by {by}; {left:.2f} {unit} (± {2 * sigma:.2f}) left to the hard stop."
