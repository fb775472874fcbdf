"""Reads whole definition files of the trade's computations: a valve with its chart, a chart with its layout.

What a file names is fetched by a function that is handed in: the file beside it on the command line, nothing at all
over the network, where a document holds its parts in the place of their names.
"""

from typing import Any

from service.definitions.chart import as_found_in, chart_document, indication_within, wiring_in
from service.definitions.documents import LIMIT_BYTES, read_document, schema_of
from service.definitions.layout import layout_in
from service.definitions.parts import Beside, nothing_beside, part_of
from service.definitions.trips import load_drift, load_looks, load_repeats
from service.definitions.valve import ValveFile
from service.domain.fields import in_part
from service.domain.refusals import BadDefinition, NotFound
from service.ports import Wiring

SCHEMAS = ("chart", "drift", "layout", "looks", "repeats", "valve")


class TradeFiles:
    """Implements `ports.TradeDocuments`; each method raises BadDefinition with the field at fault."""

    largest = LIMIT_BYTES
    repeats = staticmethod(load_repeats)
    drift = staticmethod(load_drift)
    looks = staticmethod(load_looks)

    @staticmethod
    def wiring(text: bytes, beside: Beside = nothing_beside) -> Wiring:
        """Return what a chart document describes, loaded as found."""
        return _wiring_in(read_document(text, "contact chart"), beside)

    @staticmethod
    def valve(text: bytes, beside: Beside = nothing_beside) -> tuple[ValveFile, Wiring]:
        """Return a valve and what its chart describes; valve and chart bear one tag."""
        valve = ValveFile(text)
        document = valve.chart(beside)
        with in_part("chart"):
            wiring = _wiring_in(document, beside)
        tag = wiring.circuits.chart.valve
        if tag != valve.valve:
            raise BadDefinition(f"The chart is that of {tag}, not of {valve.valve}.", field="chart.valve")
        return valve, wiring

    @staticmethod
    def schema(name: str) -> dict[str, Any]:
        """Return a published schema; raises NotFound naming those there are."""
        if name not in SCHEMAS:
            raise NotFound(f"There is no schema {name[:40]}; there are {', '.join(SCHEMAS)}.", field="name")
        return schema_of(name)


def as_one(text: bytes, beside: Beside) -> dict[str, Any]:
    """Return the document of a valve or chart file with the parts that it names held in their place."""
    document = read_document(text, "definition file")
    for name, what in (("chart", "contact chart"), ("layout", "switch layout")):
        if name in document:
            document = {**document, name: part_of(document, name, what, beside)}
            if name == "chart":
                document["chart"] = as_one_chart(document["chart"], beside)
    return document


def as_one_chart(document: dict[str, Any], beside: Beside) -> dict[str, Any]:
    """Return a chart's document with its layout held in place of its name."""
    if "layout" not in document:
        return document
    return {**document, "layout": part_of(document, "layout", "switch layout", beside)}


def _wiring_in(document: dict[str, Any], beside: Beside) -> Wiring:
    document = chart_document(document)
    held = part_of(document, "layout", "switch layout", beside)
    with in_part("layout"):
        layout = layout_in(held)
    circuits = wiring_in(document, layout, purpose="as_found")
    return Wiring(circuits, indication_within(document), as_found_in(document, circuits.chart))
