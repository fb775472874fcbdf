"""The table that a wiring diagram shows (contact x travel zones), and its way to trip points and back.

A table shows each contact as it is while the valve moves in its rotor's own trip direction. It shows no
differential and no trip direction, so these are stated beside it. The columns closed, mid, open of a common
diagram are the zones 0 to 0.1, 0.1 to 99.9 and 99.9 to 100 %: mid travel is the whole range between the ends
(common practice, no source).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from service.domain.chart import Action, ContactChart, Rotor
from service.domain.layout import ContactState
from service.domain.refusals import BadDefinition
from service.domain.travel import Direction

CLOSED_MID_OPEN = (0.0, 0.1, 99.9, 100.0)
"""Zone limits, in percent of travel, of a table with the three columns closed, mid, open."""


@dataclass(frozen=True)
class ChartTable:
    """Zones of travel from 0 to 100 % and, per contact label, its state in each of them.

    Raises
    ------
    BadDefinition
        Zones that do not rise from 0 to 100, or a row that does not fit them.

    """

    zones_pct: tuple[float, ...]
    rows: Mapping[str, tuple[ContactState, ...]]

    def __post_init__(self) -> None:
        zones = self.zones_pct
        if not all(math.isfinite(limit) for limit in zones):
            raise BadDefinition("A limit of a zone is not a finite number.", field="table.zones_pct")
        if len(zones) < 2 or zones[0] != 0 or zones[-1] != 100:
            raise BadDefinition("The zones of a table begin at 0 and end at 100 %.", field="table.zones_pct")
        if any(later <= earlier for earlier, later in pairwise(zones)):
            raise BadDefinition("Each zone of a table begins above the one before.", field="table.zones_pct")
        for label, row in self.rows.items():
            if len(row) != len(zones) - 1:
                raise BadDefinition(
                    f"Contact {label} has {len(row)} states for {len(zones) - 1} zones.",
                    field=f"table.rows.{label}",
                )


@dataclass(frozen=True, slots=True)
class Change:
    """The one change of a contact along travel: where, in percent, and the state above it."""

    label: str
    at_pct: float
    above: ContactState

    def action(self, trips_towards: Direction) -> Action:
        """Return whether the contact makes or breaks where its rotor trips in that direction."""
        closed_when_tripped = (self.above == "closed") == (trips_towards == "open")
        return "makes" if closed_when_tripped else "breaks"


def change_of(table: ChartTable, label: str) -> Change:
    """Return where a contact of a table changes.

    Raises
    ------
    BadDefinition
        The contact never changes, or changes more than once: its rotor would trip twice.

    """
    row = table.rows[label]
    at = [index for index, (below, above) in enumerate(pairwise(row), start=1) if below != above]
    where = f"table.rows.{label}"
    if not at:
        raise BadDefinition(
            f"Contact {label} is {row[0]} at every travel: its rotor would never trip.", field=where
        )
    if len(at) > 1:
        points = " and ".join(f"{table.zones_pct[index]:g} %" for index in at)
        raise BadDefinition(
            f"Contact {label} changes at {points}: its rotor would trip twice, and a rotor trips once.",
            field=where,
        )
    return Change(label, table.zones_pct[at[0]], row[at[0]])


def trip_of(table: ChartTable, labels: Sequence[str], rotor: str, trips_towards: Direction) -> float:
    """Return the one trip point, in percent, of the rotor that carries these contacts.

    Raises
    ------
    BadDefinition
        No contact shows where the rotor trips, or two of them do not agree on it.

    """
    changes = [change_of(table, label) for label in labels]
    if not changes:
        raise BadDefinition(f"No row of the table shows where rotor {rotor} trips.", field="table.rows")
    first = changes[0]
    for change in changes[1:]:
        if change.at_pct != first.at_pct:
            raise BadDefinition(
                _disagreement(first, change, rotor, trips_towards), field=f"table.rows.{change.label}"
            )
    return first.at_pct


def _disagreement(first: Change, second: Change, rotor: str, towards: Direction) -> str:
    low, high = sorted((first.at_pct, second.at_pct))
    upper = max(first, second, key=lambda change: change.at_pct)
    if first.above != second.above and upper.above == "open":
        making, breaking = (first, second) if first.action(towards) == "makes" else (second, first)
        return (
            f"Contact {making.label} makes and contact {breaking.label} breaks on one rotor, {rotor}, yet "
            "between "
            f"{low:g} and {high:g} % both would be closed together."
        )
    return (
        f"Contact {first.label} changes at {first.at_pct:g} % and contact {second.label} at "
        f"{second.at_pct:g} %, but "
        f"both sit on rotor {rotor}, which trips once: all its contacts change together."
    )


def table_of(chart: ContactChart) -> ChartTable:
    """Return the table of a chart; its zones are cut at every trip point.

    Raises
    ------
    BadDefinition
        A rotor trips at the very end of travel, where no zone is left to show it tripped.

    """
    for number, rotor in enumerate(chart.rotors):
        if rotor.trip_pct in {0.0, 100.0} and chart.contacts_of(rotor.id):
            raise BadDefinition(
                f"Rotor {rotor.id} trips at {rotor.trip_pct:g} %, the very end of travel: no zone can show "
                "it.",
                field=f"rotors[{number}].trip_pct",
            )
    trips = {rotor.trip_pct for rotor in chart.rotors if chart.contacts_of(rotor.id)}
    zones = tuple(sorted({0.0, 100.0} | trips))
    rows = {
        contact.label: tuple(
            _in_zone(chart.rotor(contact.rotor), contact.action, low, high) for low, high in pairwise(zones)
        )
        for contact in chart.contacts
    }
    return ChartTable(zones, rows)


def _in_zone(rotor: Rotor, action: Action, low: float, high: float) -> ContactState:
    above = (low + high) / 2 > rotor.trip_pct
    tripped = above == (rotor.trips_towards == "open")
    return "closed" if tripped == (action == "makes") else "open"
