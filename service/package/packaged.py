"""What a report is made of: the entries, the state that follows from them, and where the media lie."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.domain.entries import Entry
from service.domain.job_state import JobState
from service.journal.heads import Head


@dataclass(frozen=True)
class PackagedJob:
    """One job as its package shows it.

    `state` is what `domain.job.replay` makes of the entries, or None where it cannot be rebuilt; `media`
    maps SHA-256 to the path in the package, `withheld` SHA-256 to the reason why a medium is not here;
    `fingerprint` is that of the key that signs the package.
    """

    entries: tuple[Entry, ...]
    head: Head
    state: JobState | None
    media: Mapping[str, str]
    withheld: Mapping[str, str]
    fingerprint: str
    versions: Mapping[str, Any]

    def name(self, person: str | None) -> str:
        """Return the name of a person of the job; of anybody else the end of the identity."""
        if person is None:
            return "the service"
        known = self.state.pinned.person(person) if self.state else None
        return known.name if known else person if len(person) <= 20 else f"person {person[-12:]}"

    def beside(self, digest: object) -> str | None:
        """Return the path of a medium as seen from the report in `data/`; None where it is not here."""
        path = self.media.get(digest) if isinstance(digest, str) else None
        return path.removeprefix("data/") if path else None
