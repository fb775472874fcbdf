"""`limitwitness job open FILE`: opens a job from a YAML file of valve, chart, layout, procedure and people.

It works on the data folder itself, whether the service runs or not; people that the site does not know yet
are added and get a one-time link.
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from service.compose import compose
from service.definitions.documents import hold_to_schema, read_document
from service.domain.pinned import Valve
from service.domain.refusals import BadDefinition
from service.settings import settings_from
from service.use_cases.keep_registers import NewPerson
from service.use_cases.open_from_file import JobFile, open_from_file

WHAT = "job file"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add `open FILE` and its options."""
    doing = parser.add_subparsers(dest="doing", required=True, metavar="open")
    opening = doing.add_parser("open", help="open a job from a YAML file")
    opening.add_argument(
        "file", type=Path, metavar="FILE", help="YAML: valve, chart, layout, procedure, people"
    )
    opening.add_argument("--data", type=Path, metavar="DIR", help="folder of database, media and signing key")
    opening.add_argument("--json", action="store_true", help="print one JSON object")


def run(options: argparse.Namespace) -> int:
    """Open the job; returns 0. Raises BadDefinition for a file that cannot be used."""
    file = read_job_file(options.file)
    settings = settings_from(options)
    house = compose(settings)
    try:
        opened = open_from_file(house.ports, file)
    finally:
        house.close()
    links = {
        name: f"http://{settings.host}:{settings.port}/invitation#{token}"
        for name, token in opened.invitations.items()
    }
    if options.json:
        print(
            json.dumps({"job": opened.row.id, "tag": opened.row.tag, "step": opened.row.step, "links": links})
        )
        return 0
    for name, link in links.items():
        print(f"{name} sets a password, once: {link}", file=sys.stderr)
    print(opened.row.id)
    return 0


def read_job_file(path: Path) -> JobFile:
    """Return a job file with the files that it names, which stand beside it."""
    document = hold_to_schema(read_document(_bytes(path, "file"), WHAT), "job", WHAT)
    folder = path.parent
    procedure = document["procedure"]
    return JobFile(
        valve=_valve(document["valve"]),
        chart=_bytes(folder / document["chart"], "chart"),
        layout=_bytes(folder / document["layout"], "layout"),
        procedure=_bytes(folder / procedure, "procedure") if procedure.endswith(".yaml") else procedure,
        reference_photo=reference_photo_of(folder / document["layout"]),
        actuator=_bytes(folder / document["actuator"], "actuator") if "actuator" in document else None,
        people=[NewPerson(one["name"], one["sign_in_name"], one["roles"]) for one in document["people"]],
        site=document.get("site"),
    )


def reference_photo_of(layout: Path) -> bytes | None:
    """Return the photo that a layout names beside itself; None where it names none."""
    document = read_document(_bytes(layout, "layout"), "layout")
    name = document.get("reference_photo") if isinstance(document, dict) else None
    if not isinstance(name, str) or Path(name).name != name:
        return None
    return _bytes(layout.parent / name, "reference_photo")


def _valve(document: dict[str, Any]) -> Valve:
    lists: dict[str, Any] = {
        name: tuple(document[name]) for name in ("sources", "other_circuits") if name in document
    }
    return Valve(**{**document, **lists})


def _bytes(path: Path, field: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadDefinition(f"{path} cannot be read: {error.strerror}.", field=field) from error
