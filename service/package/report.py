"""The report of a job as one self-contained page: made from entries and media alone, no clock, no chance."""

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

from service.domain.entries import Entry
from service.journal.heads import Head


@dataclass(frozen=True)
class PackagedJob:
    """What a report is made of.

    `media` maps SHA-256 to the path in the package, `pictures` a photo's SHA-256 to the path of its
    annotated picture, `withheld` SHA-256 to the reason why a medium is not here; `fingerprint` is that of
    the signing key.
    """

    entries: tuple[Entry, ...]
    head: Head
    media: Mapping[str, str]
    pictures: Mapping[str, str]
    withheld: Mapping[str, str]
    fingerprint: str
    versions: Mapping[str, Any]


def report_page(job: PackagedJob) -> str:
    """Return the report as HTML."""
    rows = "".join(
        f"<tr><td>{entry.seq}</td><td>{escape(entry.kind)}</td><td>{escape(entry.received)}</td></tr>"
        for entry in job.entries
    )
    head = "<!doctype html><html lang='en'><meta charset='utf-8'><title>Report</title>"
    return f"{head}<table>{rows}</table></html>"
