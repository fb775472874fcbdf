"""Reads the files that definitions name: a valve names its chart, a chart its layout, each beside itself."""

import argparse
import json
from pathlib import Path

from service.definitions.chart import indication_within, layout_file_of, load_wiring
from service.definitions.documents import schema_of
from service.definitions.layout import load_layout
from service.definitions.valve import ValveFile
from service.domain.circuits import Circuits
from service.domain.refusals import BadDefinition


class PrintSchema(argparse.Action):
    """Prints the published JSON Schema named by `const` and ends, as --help does."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,  # noqa: ARG002 - argparse's own signature
        values: object,  # noqa: ARG002
        option_string: str | None = None,  # noqa: ARG002
    ) -> None:
        """Print the schema and end with status 0."""
        print(json.dumps(schema_of(str(self.const)), indent=2))
        parser.exit(0)


def add_schema_option(parser: argparse.ArgumentParser, schema: str) -> None:
    """Let a verb print the JSON Schema of its file with --schema."""
    parser.add_argument(
        "--schema", action=PrintSchema, nargs=0, const=schema, help="print the file's JSON Schema"
    )


def read_file(path: str | Path, field: str | None = None) -> bytes:
    """Return the bytes of a file; raises BadDefinition where it cannot be read."""
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise BadDefinition(f"Cannot read {path}: {error.strerror}.", field=field) from error


def load_wiring_file(path: str | Path) -> tuple[Circuits, float | None]:
    """Return the circuits of a chart file, loaded as found, and the site's rule for early indication."""
    text = read_file(path)
    layout = load_layout(read_file(Path(path).parent / layout_file_of(text), "layout"))
    return load_wiring(text, layout, purpose="as_found"), indication_within(text)


def load_valve_file(path: str | Path) -> tuple[ValveFile, Circuits]:
    """Return a valve file and the circuits of the chart that it names, loaded as found.

    Raises
    ------
    BadDefinition
        A file cannot be used, or valve and chart bear different tags.

    """
    valve = ValveFile(read_file(path))
    circuits, _ = load_wiring_file(Path(path).parent / valve.chart_file)
    if circuits.chart.valve != valve.valve:
        raise BadDefinition(
            f"The chart {valve.chart_file} is that of {circuits.chart.valve}, not of {valve.valve}.",
            field="chart",
        )
    return valve, circuits
