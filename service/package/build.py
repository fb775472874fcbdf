"""Build the package of one job: a bag (RFC 8493) in a folder or a zip. The same head gives the same bytes.

Everything is taken from the entries as they are stored, from the media that they name, and from the figures
handed in; no clock is read and nothing depends on where the package is written.
"""

import os
import re
import shutil
import tempfile
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from service.domain.entries import Entry
from service.domain.job_state import JobState
from service.domain.refusals import Conflict, Malformed
from service.journal.canonical import canonical
from service.journal.chain import REDACTED, unseal
from service.journal.envelope import read_envelope
from service.journal.heads import Head, SignedHead
from service.journal.keys import SigningKey
from service.package import paths
from service.package.bag import ALGORITHMS, DECLARATION, bag_info, manifest, payload_oxum
from service.package.container import Fingerprint, Folder, fingerprint_of, reader_of
from service.package.contents import Contents, Listed, contents_document
from service.package.media_files import MediaFile, ReadMedia, read_or_reason, wanted
from service.package.packaged import PackagedJob
from service.package.recorded import findings_of, results
from service.package.report import report_page
from service.package.report_facts import report_facts
from service.package.report_print import report_print
from service.package.stand_alone import stand_alone_files
from service.package.stored_zip import part_of, zip_chunks
from service.package.whole_record import BrokenRecord, refuse_broken

__all__ = ["BrokenRecord", "JobRecord", "MediaFile", "TooLargeForZip", "build_package", "refuse_broken"]


class TooLargeForZip(Malformed):
    """The package has more files or bytes than one zip holds; a folder has no such limit."""

    code = "too-large-for-zip"
    title = "This package is too large for one zip"


@dataclass(frozen=True)
class JobRecord:
    """One job as it is stored: its entries in order, their signed head, and the media linked with it.

    `versions` names the program that makes the package; those of the engines stand in their results.
    `state` is what the domain makes of the entries, and is shown in the report. `earlier_keys` are the raw
    public keys with which the service signed before its present one.
    """

    sealed: Sequence[tuple[bytes, bytes | None]]
    head: SignedHead
    media: Sequence[MediaFile]
    versions: Mapping[str, Any]
    state: JobState | None = None
    earlier_keys: Collection[bytes] = ()


def build_package(record: JobRecord, read_media: ReadMedia, key: SigningKey, out: Path) -> Path:
    """Write the package to `out`, a folder, or a zip where the name ends in `.zip`; returns `out`.

    A medium that `read_media` cannot give is listed as withheld, with the reason. Nothing is left behind
    where the package cannot be made.

    Raises
    ------
    Conflict
        `out` exists already.
    BrokenRecord, WrongSignature
        The stored record is not what the signed head names; no package is made of it.
    TooLargeForZip
        More than 65,534 files or 4 GiB.

    """
    if out.exists():
        raise Conflict(f"{out} exists already.", hint="Name another place, or remove it.")
    out.parent.mkdir(parents=True, exist_ok=True)
    staging = Path(tempfile.mkdtemp(prefix=".package-", dir=out.parent))
    try:
        bag = _Bag(record, key, staging)
        bag.write_everything(read_media)
        if out.suffix == ".zip":
            _write_zip(bag.folder, staging / "package.zip")
            (staging / "package.zip").rename(out)
        else:
            bag.folder.rename(out)
    finally:
        shutil.rmtree(staging, ignore_errors=True)
    return out


class _Bag:
    """One package while it is written, in a folder that is named after the job."""

    def __init__(self, record: JobRecord, key: SigningKey, staging: Path) -> None:
        self.record = record
        self.key = key
        self.head = refuse_broken(record.sealed, record.head, {key.public_key, *record.earlier_keys})
        self.entries = [unseal(envelope, payload) for envelope, payload in record.sealed]
        self.versions = {**record.versions, **_engines(self.entries)}
        self.media: dict[str, str] = {}
        self.definitions: dict[str, str] = {}
        self.withheld: dict[str, str] = {}
        self.folder = staging / ("job-" + re.sub(r"[^A-Za-z0-9-]", "-", self.head.job)[:80])
        self.folder.mkdir()

    def write_everything(self, read_media: ReadMedia) -> None:
        """Write payload, check, report, manifests, signed contents and tag manifests, in this order."""
        for path, document in (*_entry_files(self.record), *_results(self.entries)):
            self._write(path, document)
        for path, document in stand_alone_files().items():
            self._write(path, document)
        for medium in wanted(self.entries, self.record.media):
            content = read_or_reason(medium.sha256, read_media)
            if isinstance(content, str):
                self.withheld[medium.sha256] = content
                continue
            self._write(medium.path, content)
            if medium.name is None:
                self.media[medium.sha256] = medium.path
            else:
                self.definitions[medium.name] = medium.path
        self._write_head()
        facts = report_facts(self._packaged())
        self._write(paths.REPORT, report_page(facts).encode())
        self._write(paths.PRINT, report_print(facts, lambda path: (self.folder / "data" / path).read_bytes()))
        self._write_bag_files()
        self._write_contents()
        tags = {path: found for path, found in self._stored().items() if not path.startswith("data/")}
        self._write_manifests("tagmanifest", tags)

    def _packaged(self) -> PackagedJob:
        return PackagedJob(
            entries=tuple(self.entries),
            head=self.head,
            state=self.record.state,
            media=self.media,
            withheld=self.withheld,
            fingerprint=self.key.fingerprint,
            versions=self.versions,
        )

    def _write_head(self) -> None:
        """Sign the head with the key of the package: an earlier key may have signed it when it was new."""
        self._write(paths.HEAD, self.record.head.document)
        self._write(paths.HEAD_SIGNATURE, self.key.sign(self.record.head.document))
        self._write(paths.SIGNING_KEY, self.key.public_pem)

    def _write_bag_files(self) -> None:
        stored = self._stored()
        self._write(paths.BAG_DECLARATION, DECLARATION)
        self._write(paths.BAG_INFO, _bag_info(self.head, self.versions, stored))
        payload = {path: found for path, found in stored.items() if path.startswith("data/")}
        self._write_manifests("manifest", payload)

    def _write_contents(self) -> None:
        document = canonical(contents_document(self._contents()))
        self._write(paths.CONTENTS, document)
        self._write(paths.CONTENTS_SIGNATURE, self.key.sign(document))

    def _contents(self) -> Contents:
        return Contents(
            job=self.head.job,
            site=str(read_envelope(self.record.sealed[0][0]).fields["site"]),
            head_seq=self.head.seq,
            head_hash=self.head.hash,
            head_time=self.head.time,
            entries=len(self.entries),
            files={path: Listed(found.size, found.sha256) for path, found in self._stored().items()},
            redacted=tuple(entry.seq for entry in self.entries if entry.body is REDACTED),
            withheld=self.withheld,
            definitions=self.definitions,
            versions=self.versions,
        )

    def _write_manifests(self, kind: str, files: Mapping[str, Fingerprint]) -> None:
        for algorithm in ALGORITHMS:
            digests = {path: getattr(found, algorithm) for path, found in files.items()}
            self._write(f"{kind}-{algorithm}.txt", manifest(digests))

    def _stored(self) -> dict[str, Fingerprint]:
        folder = Folder(self.folder)
        return {name: fingerprint_of(folder, name) for name in folder.names}

    def _write(self, path: str, content: bytes) -> None:
        place = self.folder / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content)


def _engines(entries: Sequence[Entry]) -> dict[str, list[str]]:
    """Return the versions of every reader and hearer that computed a result in these entries."""
    engines: dict[str, set[str]] = {"readers": set(), "hearers": set()}
    for entry in entries:
        for name, result in (("reader", entry.body.get("reading")), ("hearer", entry.body.get("hearing"))):
            if isinstance(result, Mapping) and isinstance(result.get(name), str):
                engines[f"{name}s"].add(result[name])
    return {name: sorted(versions) for name, versions in engines.items()}


def _entry_files(record: JobRecord) -> Iterator[tuple[str, bytes]]:
    for seq, (envelope, payload) in enumerate(record.sealed):
        yield paths.envelope_path(seq), envelope
        if payload is not None:
            yield paths.payload_path(seq), payload


def _results(entries: Sequence[Entry]) -> Iterator[tuple[str, bytes]]:
    for entry in entries:
        for path, value in results(entry.kind, entry.seq, entry.body):
            yield path, canonical(value)
    yield paths.FINDINGS, canonical(findings_of({entry.seq: (entry.kind, entry.body) for entry in entries}))


def _bag_info(head: Head, versions: Mapping[str, Any], stored: Mapping[str, Fingerprint]) -> bytes:
    return bag_info(
        [
            ("Bag-Software-Agent", f"limitwitness {versions.get('limitwitness', '')}".strip()),
            ("Bagging-Date", head.time[:10]),
            ("External-Identifier", head.job),
            ("Internal-Sender-Description", "Evidence of one limit-setting job; see HOW_TO_CHECK.txt"),
            ("Payload-Oxum", payload_oxum({path: found.size for path, found in stored.items()})),
        ]
    )


def _write_zip(bag: Path, place: Path) -> None:
    folder = Folder(bag)
    parts = [part_of(f"{bag.name}/{name}", reader_of(folder, name)) for name in folder.names]
    try:
        with place.open("wb") as file:
            for chunk in zip_chunks(parts):
                file.write(chunk)
            file.flush()
            os.fsync(file.fileno())
    except OverflowError as error:
        raise TooLargeForZip(str(error), hint="Name a folder instead.") from error
