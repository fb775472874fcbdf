"""`limitwitness package JOB`: makes the package of a job from the data folder, service running or not.

Whoever may read the data folder may make packages; what the service shows to whom does not apply here.
"""

import argparse
import json
import sys
from pathlib import Path

from service.compose import House, ZipPackages, compose
from service.domain.refusals import NotFound
from service.package.whole_record import refuse_broken
from service.ports import JobRow, Transaction
from service.settings import settings_from
from service.use_cases.job_record import load_job


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the job and where its package goes."""
    parser.add_argument(
        "job", metavar="JOB", help="the job's id, or the valve's tag where it has one job only"
    )
    parser.add_argument("--data", type=Path, metavar="DIR", help="folder of database, media and signing key")
    parser.add_argument("--out", type=Path, metavar="PATH", help="folder, or zip where the name ends in .zip")
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def run(options: argparse.Namespace) -> int:
    """Make the package and name it; returns 0. Raises NotFound for a folder or a job that there is not."""
    settings = settings_from(options)
    if not (settings.folder / "record.sqlite").exists():
        raise NotFound(f"There is no record in {settings.folder}.", hint="Name the folder with --data.")
    house = compose(settings)
    try:
        made = make(house, options.job, options.out)
    finally:
        house.close()
    if options.json:
        print(json.dumps(made))
    else:
        print(made["package"])
        print(f"signed with the key {made['key']}", file=sys.stderr)
    return 0


def make(house: House, named: str, out: Path | None) -> dict[str, str | int]:
    """Write the package of the job that is named; returns what was written."""
    packages = house.ports.packages
    if not isinstance(packages, ZipPackages):
        raise TypeError("Packages are written by the package room.")
    with house.ports.transactions.reading() as tx:
        row = find_job(tx, named)
        sealed, head = tx.journal.sealed(row.id), tx.journal.head(row.id)
        newest = refuse_broken(sealed, head, {house.key.public_key, *packages.earlier})
        state = load_job(house.ports, tx, row.site_id, row.id).state
        media = tx.listings.media_of_job(row.id)
    place = out or Path(f"package-{row.id}.zip")
    packages.write(place, sealed, head, media, state)
    return {
        "job": row.id,
        "package": str(place),
        "key": house.key.fingerprint,
        "head": newest.hash,
        "entries": newest.seq + 1,
    }


def find_job(tx: Transaction, named: str) -> JobRow:
    """Return the job of that id, or the only job on the valve of that tag, on any site of the folder."""
    rows = [row for site in tx.registers.sites() for row in tx.listings.jobs(site.id)]
    found = [row for row in rows if row.id == named] or [row for row in rows if row.tag == named]
    if not found:
        raise NotFound(f"There is no job {named} in this folder.", field="JOB")
    if len(found) > 1:
        ids = ", ".join(row.id for row in found)
        raise NotFound(f"There are {len(found)} jobs on {named}.", field="JOB", hint=f"Name one of {ids}.")
    return found[0]
