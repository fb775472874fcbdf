"""Reads the files that definitions name: a valve names its chart, a chart its layout, each beside itself."""

import argparse
import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from service.definitions.trade_files import TradeFiles, as_one
from service.definitions.valve import ValveFile
from service.domain.refusals import BadDefinition
from service.ports import Wiring


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
        print(json.dumps(TradeFiles.schema(str(self.const)), indent=2))
        parser.exit(0)


def add_schema_option(parser: argparse.ArgumentParser, schema: str) -> None:
    """Let a verb print the JSON Schema of its file with --schema, and its answers with --json."""
    parser.add_argument(
        "--schema", action=PrintSchema, nargs=0, const=schema, help="print the file's JSON Schema"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object a line")


def add_file_options(parser: argparse.ArgumentParser, schema: str) -> None:
    """Let a verb print schema, JSON, and its file with the files that it names in one document."""
    add_schema_option(parser, schema)
    parser.add_argument(
        "--as-one",
        action="store_true",
        help="only print the file as one JSON document, the files that it names in their place: what the API takes",
    )


def printed_as_one(options: argparse.Namespace) -> bool:
    """Print the file as one document where that is asked for, and say whether it was."""
    if options.as_one:
        print_json(as_one(read_file(options.file), beside(options.file)))
    return bool(options.as_one)


def print_json(said: Mapping[str, Any]) -> None:
    """Print one JSON object on one line."""
    print(json.dumps(said, ensure_ascii=False, allow_nan=False))


def read_file(path: str | Path, field: str | None = None) -> bytes:
    """Return the bytes of a file; raises BadDefinition where it cannot be read."""
    try:
        return Path(path).read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a name with a zero byte
        reason = error.strerror if isinstance(error, OSError) else "no file name"
        raise BadDefinition(f"Cannot read {path}: {reason}.", field=field) from error


def beside(path: str | Path) -> Callable[[str, str], bytes]:
    """Return what reads the files beside a file."""
    return lambda name, field: read_file(Path(path).parent / name, field)


def load_wiring_file(path: str | Path) -> Wiring:
    """Return the circuits of a chart file, loaded as found."""
    return TradeFiles.wiring(read_file(path), beside(path))


def load_valve_file(path: str | Path) -> tuple[ValveFile, Wiring]:
    """Return a valve file and what the chart that it names describes, loaded as found.

    Raises
    ------
    BadDefinition
        A file cannot be used, or valve and chart bear different tags.

    """
    return TradeFiles.valve(read_file(path), beside(path))


def write_drawing(path: str, drawing: str) -> None:
    """Write a drawing; raises BadDefinition where that is not possible."""
    try:
        Path(path).write_text(drawing, encoding="utf-8")
    except OSError as error:
        raise BadDefinition(f"Cannot write {path}: {error.strerror}.", field="--svg") from error
