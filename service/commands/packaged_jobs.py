"""Rebuilds jobs from their packages, for what is counted over many of them; an altered package is left out."""

import hashlib
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from service.compose import DefinitionFiles
from service.domain.entries import Entry
from service.domain.job import replay
from service.domain.job_state import JobState
from service.domain.refusals import BadDefinition, NotFound, Refusal
from service.journal.chain import AlteredEntry, unseal
from service.package import paths
from service.package.check import check_package
from service.package.container import Container, NotAPackageError, UnreadableFileError, document, open_package
from service.use_cases.job_record import pinned_by


def states_of(places: Iterable[Path]) -> tuple[list[JobState], Counter[str]]:
    """Return the state of each packaged job, of several packages of one job the longest; and what was left out.

    Raises
    ------
    BadDefinition
        There is no package at a place.

    """
    newest: dict[str, JobState] = {}
    left_out: Counter[str] = Counter()
    for place in places:
        try:
            state = _state_of(place)
        except NotAPackageError as error:
            raise BadDefinition(f"{place} is no package: {error}", field="FILE") from error
        except (Refusal, AlteredEntry, UnreadableFileError, LookupError):
            left_out["unreadable packages"] += 1
            continue
        if state is None:
            left_out["altered packages"] += 1
            continue
        known = newest.get(state.pinned.job)
        if known is not None:
            left_out["older packages of a job"] += 1
        if known is None or state.last_seq > known.last_seq:
            newest[state.pinned.job] = state
    return list(newest.values()), left_out


def _state_of(place: Path) -> JobState | None:
    """Return the state that a package's entries make; None where the package is not unchanged since recorded."""
    outcome = check_package(place)
    if outcome.verdict != "unchanged" or outcome.contents is None:
        return None
    container = open_package(place)
    entries = tuple(_entries(container))
    pinned_files = {
        hashlib.sha256(content).hexdigest(): content
        for name in container.names
        if name.startswith(paths.DEFINITIONS)
        for content in [document(container, name)]
    }

    def get(sha256: str) -> bytes:
        if sha256 not in pinned_files:
            raise NotFound("A file that the job pinned is not in its package.")
        return pinned_files[sha256]

    pinned = pinned_by(DefinitionFiles(), get, (outcome.contents.job, ""), entries[0].body)
    return replay(pinned, entries)


def _entries(container: Container) -> list[Entry]:
    numbers = sorted(
        int(match[1])
        for name in container.names
        if (match := paths.ENTRY_FILE.fullmatch(name)) and match[2] == "envelope"
    )
    found = []
    for seq in numbers:
        payload = paths.payload_path(seq)
        body = document(container, payload) if payload in container.names else None
        found.append(unseal(document(container, paths.envelope_path(seq)), body))
    return found
