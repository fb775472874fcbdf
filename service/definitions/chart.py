"""Reads a contact chart file.

Trip points and actions, or the table of a diagram, or both where they agree.
"""

from dataclasses import replace
from functools import lru_cache
from typing import Any, Literal

from service.definitions.circuits import circuits_of
from service.definitions.documents import hold_to_schema, read_document
from service.definitions.layout import layout_in
from service.domain.chart import Contact, ContactChart, Rotor
from service.domain.chart_dangers import require_settable
from service.domain.chart_table import ChartTable, change_of, trip_of
from service.domain.circuit_report import require_settable_circuits
from service.domain.circuits import Circuits
from service.domain.fields import in_part
from service.domain.layout import SwitchLayout
from service.domain.refusals import BadDefinition

Purpose = Literal["to_set", "as_found"]


def load_chart(text: bytes, layout: SwitchLayout, *, purpose: Purpose = "to_set") -> ContactChart:
    """Return the contact chart that a file describes; as `load_wiring`, without the circuits."""
    return load_wiring(text, layout, purpose=purpose).chart


def load_wiring(text: bytes, layout: SwitchLayout, *, purpose: Purpose = "to_set") -> Circuits:
    """Return the circuits that a chart file describes, its contact chart among them.

    Parameters
    ----------
    text : bytes
        The chart file, YAML or JSON.
    layout : SwitchLayout
        The layout that the chart names.
    purpose : "to_set" or "as_found"
        A dangerous chart is refused as the chart to set and loaded as found.

    Raises
    ------
    BadDefinition
        The file cannot be used; the message names the field and the reason.

    """
    return wiring_in(_document(text), layout, purpose=purpose)


def wiring_in(document: dict[str, Any], layout: SwitchLayout, *, purpose: Purpose = "to_set") -> Circuits:
    """Return the circuits that a chart document describes; as `load_wiring`, from a document held to its schema."""
    held = document["layout"]
    if isinstance(held, dict) and layout_in(held) != layout:
        raise BadDefinition("The chart holds another layout than the one that goes with it.", field="layout")
    table = _table(document)
    rotors = tuple(
        _rotor(entry, document, layout, table, number) for number, entry in enumerate(document["rotors"])
    )
    towards = {rotor.id: rotor for rotor in rotors}
    chart = ContactChart(
        valve=document["valve"],
        layout=layout,
        rotors=rotors,
        contacts=tuple(
            _contact(entry, layout, table, towards, number)
            for number, entry in enumerate(document["contacts"])
        ),
        closed_end=document["ends"]["closed"],
        open_end=document["ends"]["open"],
        drawing=document.get("drawing", ""),
        layout_file=held if isinstance(held, str) else "",
        drive_turns=document.get("drive_turns"),
    )
    circuits = circuits_of(document, chart)
    if purpose == "to_set":
        require_settable(chart)
        require_settable_circuits(circuits, document.get("circuits", {}).get("indication_within_pct"))
    return circuits


def indication_within(document: dict[str, Any]) -> float | None:
    """Return the site's rule for how early lamps may show a torque-seated end, in percent, or None."""
    within = document.get("circuits", {}).get("indication_within_pct")
    return None if within is None else float(within)


def as_found_in(document: dict[str, Any], chart: ContactChart) -> ContactChart | None:
    """Return the chart with the trip points that the document states as found; None where it states none.

    Raises
    ------
    BadDefinition
        A rotor is stated that the chart does not have, or a trip point that no rotor can have.

    """
    found = document.get("as_found")
    if not found:
        return None
    for rotor in found:
        if all(one.id != rotor for one in chart.rotors):
            raise BadDefinition(f"The chart has no rotor {rotor}.", field=f"as_found.{rotor}")
    rotors = tuple(replace(one, trip_pct=float(found.get(one.id, one.trip_pct))) for one in chart.rotors)
    with in_part(
        "",
        {
            f"rotors[{number}].{name}": f"as_found.{one.id}"
            for number, one in enumerate(chart.rotors)
            for name in ("trip_pct", "differential_pct")
        },
    ):
        return replace(chart, rotors=rotors)


@lru_cache(maxsize=16)
def _document(text: bytes) -> dict[str, Any]:
    """Return a chart file's document; kept, since several questions are put to one file. It is only read."""
    return chart_document(read_document(text, "contact chart"))


def chart_document(document: dict[str, Any]) -> dict[str, Any]:
    """Return a document that fits the schema of charts; raises BadDefinition otherwise."""
    return hold_to_schema(document, "chart", "contact chart")


def _table(document: dict[str, Any]) -> ChartTable | None:
    entry = document.get("table")
    if entry is None:
        return None
    zones = tuple(float(limit) for limit in entry["zones_pct"])
    table = ChartTable(zones, {label: tuple(row) for label, row in entry["rows"].items()})
    labels = {contact["label"] for contact in document["contacts"]}
    for label in table.rows:
        if label not in labels:
            raise BadDefinition(f"The chart has no contact {label}.", field=f"table.rows.{label}")
    return table


def _rotor(
    entry: dict[str, Any],
    document: dict[str, Any],
    layout: SwitchLayout,
    table: ChartTable | None,
    number: int,
) -> Rotor:
    trip = entry.get("trip_pct")
    where = f"rotors[{number}].trip_pct"
    labels = _labels_on(entry["id"], document, layout, table)
    if table is not None and (labels or trip is None):
        shown = trip_of(table, labels, entry["id"], entry["trips_towards"])
        if trip is not None and trip != shown:
            raise BadDefinition(
                f"The trip point is {trip:g} % here and {shown:g} % in the table.", field=where
            )
        trip = shown
    if trip is None:
        raise BadDefinition(
            f"Neither a trip point nor a table says where rotor {entry['id']} trips.", field=where
        )
    return Rotor(
        entry["id"],
        entry["trips_towards"],
        float(trip),
        float(entry["differential_pct"]),
        entry.get("role", "auxiliary"),
    )


def _labels_on(
    rotor: str, document: dict[str, Any], layout: SwitchLayout, table: ChartTable | None
) -> list[str]:
    rows = table.rows if table else {}
    return [
        contact["label"]
        for contact in document["contacts"]
        if contact["label"] in rows and (place := layout.place(contact["place"])) and place.rotor == rotor
    ]


def _contact(
    entry: dict[str, Any],
    layout: SwitchLayout,
    table: ChartTable | None,
    rotors: dict[str, Rotor],
    number: int,
) -> Contact:
    where = f"contacts[{number}]"
    place = layout.place(entry["place"])
    if place is None:
        raise BadDefinition(
            f"Contact {entry['label']} sits at {entry['place']}, which layout {layout.id} does not have.",
            field=f"{where}.place",
        )
    action = entry.get("action")
    if table is not None and entry["label"] in table.rows and place.rotor in rotors:
        shown = change_of(table, entry["label"]).action(rotors[place.rotor].trips_towards)
        if action is not None and action != shown:
            raise BadDefinition(
                f"The contact {action} here and {shown} in the table.", field=f"{where}.action"
            )
        action = shown
    if action is None:
        raise BadDefinition(
            f"Neither an action nor a table says what contact {entry['label']} does at the trip.",
            field=f"{where}.action",
        )
    voltage = entry.get("voltage_v")
    return Contact(
        label=entry["label"],
        rotor=place.rotor,
        bar=place.bar,
        place=place.id,
        action=action,
        use=entry["use"],
        voltage_v=None if voltage is None else float(voltage),
        circuit=entry["circuit"],
        spoken=entry.get("spoken", ""),
    )
