"""What a package says happened, read from its entries alone."""

import hashlib
import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from service.demo.caught import Caught, caught_in
from service.domain.entries import Entry
from service.journal.chain import unseal
from service.package import paths
from service.package.container import Container, document, open_package
from service.package.public_key import read_public_key


@dataclass(frozen=True)
class Told:
    """Counts and names that a summary shows; every figure comes from the package at `package`."""

    package: Path
    key: str
    entries: int
    heard: int
    refused_clips: Mapping[str, int]
    read: int
    refused_photos: Mapping[str, int]
    verdicts: Mapping[str, int]
    released: tuple[str, ...]
    caught: tuple[Caught, ...]
    checkpoints: Mapping[str, Mapping[str, str]]
    strokes: Mapping[str, Mapping[str, Any]]

    def to_json(self) -> dict[str, Any]:
        """Return the summary as it is written to `summary.json`."""
        return {
            "package": str(self.package),
            "key": self.key,
            "entries": self.entries,
            "clips": {"heard": self.heard, "refused": dict(self.refused_clips)},
            "photos": {"read": self.read, "refused": dict(self.refused_photos)},
            "verdicts": dict(self.verdicts),
            "released": list(self.released),
            "caught": [one.to_json() for one in self.caught],
            "checkpoints": {step: dict(verdicts) for step, verdicts in self.checkpoints.items()},
            "strokes": {step: dict(judged) for step, judged in self.strokes.items()},
        }


def told_by(package: Path) -> Told:
    """Read a package's entries, and its key, from the zip."""
    container = open_package(package)
    entries = tuple(_entries(container))
    key = hashlib.sha256(read_public_key(document(container, paths.SIGNING_KEY))).hexdigest()
    hearings = [entry.body["hearing"] for entry in entries if entry.kind == "clip_heard"]
    readings = [entry.body["reading"] for entry in entries if entry.kind == "photo_read"]
    return Told(
        package=package,
        key=key,
        entries=len(entries),
        heard=sum(one["verdict"] == "heard" for one in hearings),
        refused_clips=_reasons(hearings),
        read=sum(one["verdict"] == "read" for one in readings),
        refused_photos=_reasons(readings),
        verdicts=Counter(entry.body["verdict"] for entry in entries if entry.kind == "finding_made"),
        released=tuple(str(entry.body["step"]) for entry in entries if entry.kind == "hold_point_released"),
        caught=tuple(caught_in(entries)),
        checkpoints=_checkpoints(entries),
        strokes=_strokes(entries),
    )


def _entries(container: Container) -> Iterator[Entry]:
    numbers = sorted(
        int(match[1])
        for name in container.names
        if (match := paths.ENTRY_FILE.fullmatch(name)) and match[2] == "envelope"
    )
    for seq in numbers:
        envelope = document(container, paths.envelope_path(seq))
        yield unseal(envelope, document(container, paths.payload_path(seq)))


def _checkpoints(entries: Sequence[Entry]) -> dict[str, dict[str, str]]:
    """Return the last verdict of every contact at every checkpoint."""
    found: dict[str, dict[str, str]] = {}
    for entry in entries:
        if entry.kind == "finding_made":
            found.setdefault(str(entry.body["step"]), {})[str(entry.body["label"])] = str(
                entry.body["verdict"]
            )
    return found


def _strokes(entries: Sequence[Entry]) -> dict[str, dict[str, Any]]:
    """Return the last judgement of the stroke of every step: its verdict, time and expectation in seconds."""
    told = ("verdict", "took_s", "sigma_s", "expected_s", "expected_sigma_s", "stopped_by")
    return {
        str(entry.body["step"]): {name: entry.body[name] for name in told}
        for entry in entries
        if entry.kind == "stroke_judged" and entry.body
    }


def _reasons(results: list[Mapping[str, Any]]) -> Counter[str]:
    return Counter(str(one["reason"]) for one in results if one["verdict"] == "refused")


def write_summary(told: Told, places: Mapping[str, str], out: Path) -> None:
    """Write `summary.json`: what the package tells, and where its reports lie."""
    out.write_text(
        json.dumps({**told.to_json(), **places}, indent=2, ensure_ascii=False) + "\n", encoding="utf-8"
    )
