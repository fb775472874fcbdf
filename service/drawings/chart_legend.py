"""The legend of a contact chart, in words: dangers first, then how to read it, trip points, contacts."""

from collections.abc import Sequence
from textwrap import wrap

from service.domain.chart import ContactChart, Rotor
from service.domain.chart_dangers import Danger
from service.drawings.svg import shortened, text

Row = tuple[str, str]
LINE = 22.0
LINE_LENGTH = 100
COLUMN_WIDTH = 780.0
MOST_IN_ONE_COLUMN = 20


def rows_of(chart: ContactChart, *, as_found: ContactChart | None, dangers: Sequence[Danger]) -> list[Row]:
    """Return every line of the legend with its style."""
    rows = [
        (words, "against bold")
        for danger in dangers
        for words in wrap(f"Dangerous to set: {danger.reason}", LINE_LENGTH, subsequent_indent="   ")
    ]
    rows.append(
        ("Hatched: closed. Empty: open, while the valve moves in the rotor's own trip direction.", "soft")
    )
    rows.append(("Notch: trip point; its tail: the differential on the way back.", "soft"))
    rows.append(("The tenth at each end of the ladder is drawn larger.", "soft"))
    if as_found:
        rows.append(
            ("Solid notch: as in this chart, as left. Dashed notch: as found, where it differs.", "soft")
        )
    rows.append(
        ("Drawn from the chart, not from the valve. Local rules and the site permit come first.", "soft")
    )
    rows.append(("", "soft"))
    rows += [(_rotor(rotor, as_found), "ink") for rotor in chart.rotors]
    rows.append(("", "soft"))
    for contact in chart.contacts:
        volts = "" if contact.voltage_v is None else f"{contact.voltage_v:g} V"
        words = ", ".join(
            part
            for part in (f"{contact.label}: {contact.action} on {contact.rotor}", contact.use, volts)
            if part
        )
        rows.append((shortened(words, LINE_LENGTH + 4), "ink"))
    return rows


def draw_legend(rows: Sequence[Row], top: float, width: float) -> tuple[str, float]:
    """Return the legend below `top`, in as many columns as the width has room for, and where the drawing ends."""
    columns = 1 if len(rows) <= MOST_IN_ONE_COLUMN else max(1, int(width // COLUMN_WIDTH))
    each = -(-len(rows) // columns)
    drawn = [
        text(24 + number // each * COLUMN_WIDTH, top + number % each * LINE, words, kind)
        for number, (words, kind) in enumerate(rows)
        if words
    ]
    return "".join(drawn), top + each * LINE + 12.0


def _rotor(rotor: Rotor, as_found: ContactChart | None) -> str:
    role = "" if rotor.role == "auxiliary" else f", {rotor.role.removesuffix('_end')} end"
    words = (
        f"Rotor {rotor.id}{role}: trips at {rotor.trip_pct:g} % towards {rotor.trips_towards}, "
        f"resets at {rotor.reset_pct:g} %"
    )
    found = next((one for one in as_found.rotors if one.id == rotor.id), None) if as_found else None
    if found is not None and found.trip_pct != rotor.trip_pct:
        words += f"; found at {found.trip_pct:g} %, moved by {rotor.trip_pct - found.trip_pct:+.3g} %"
    return shortened(f"{words}.", LINE_LENGTH + 4)
