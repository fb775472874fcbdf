"""`limitwitness agreement [FILE]`: whether a second look is worth anything: from looks, packages, or a data folder.

Whoever may read packages or the data folder may count over them; what the service shows to whom does not apply here.
"""

import argparse
from pathlib import Path

from service.commands.definition_files import add_schema_option, print_json, read_file
from service.commands.packaged_jobs import states_of
from service.compose import compose
from service.definitions.trips import load_looks
from service.domain.refusals import NotFound
from service.drawings.figures_words import looks_in_words, site_in_words
from service.settings import Settings, settings_from
from service.use_cases.tell_agreement import tell_jobs, tell_looks, tell_states


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the verb."""
    parser.add_argument(
        "files", metavar="FILE", nargs="*", type=Path,
        help="one file of paired looks, YAML or JSON, or packages of jobs; else the data folder",
    )  # fmt: skip
    parser.add_argument("--data", type=Path, metavar="DIR", help="folder of database and media")
    add_schema_option(parser, "looks")


def run(options: argparse.Namespace) -> int:
    """Print what the looks say; returns 0. Raises NotFound for a folder without a record."""
    files: list[Path] = options.files
    if len(files) == 1 and not _is_package(files[0]):
        told = tell_looks(load_looks(read_file(files[0])))
        words = looks_in_words(told)
    else:
        told = tell_states(*states_of(files)) if files else _of_folder(settings_from(options))
        words = site_in_words(told)
    if options.json:
        print_json(told)
    else:
        print(words)
    return 0


def _is_package(place: Path) -> bool:
    return place.is_dir() or place.suffix == ".zip"


def _of_folder(settings: Settings) -> dict[str, object]:
    """Return what the looks of every job in the folder say."""
    if not (settings.folder / "record.sqlite").exists():
        raise NotFound(
            f"There is no record in {settings.folder}.", hint="Name a file, or the folder with --data."
        )
    house = compose(settings)
    try:
        with house.ports.transactions.reading() as tx:
            rows = [row for site in tx.registers.sites() for row in tx.listings.jobs(site.id)]
            return tell_jobs(house.ports, tx, rows)
    finally:
        house.close()
