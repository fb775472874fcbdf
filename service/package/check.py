"""Check a package: is it unchanged since recorded? Bare Python; trusts no writer, encodes no record anew.

Run by `limitwitness check`, and by the `check.py` that lies in every package. What it promises: of a
package whose signing key is known to be the service's, no byte of any file was changed, no file added or
removed, no entry edited, moved or dropped since the package was signed, and the entries are those of one
unbroken journal. It does not say that what was recorded is true.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from service.journal.check import check_chain
from service.journal.digests import is_sha256
from service.journal.ed25519 import signature_fits
from service.journal.strict_json import AmbiguousJsonError, read_json
from service.package import paths
from service.package.bag_check import check_bag, check_declaration
from service.package.container import (
    Container,
    Fingerprint,
    NotAPackageError,
    UnreadableFileError,
    Zip,
    fingerprint_of,
    open_package,
    read_or_none,
    reader_of,
)
from service.package.contents import BadContentsError, Contents, UnknownVersionError, read_contents
from service.package.findings_of_check import Outcome, Problem, Report
from service.package.public_key import BadPublicKeyError, read_public_key
from service.package.recorded import record_problems
from service.package.stored_zip import part_of, zip_chunks

__all__ = ["NotAPackageError", "Outcome", "Problem", "check_package"]


def check_package(place: Path, key: str | None = None) -> Outcome:
    """Check the package in a folder or zip.

    `key` is the signer's fingerprint that the caller knows, hex SHA-256 of the raw public key.

    1. The package opens, and no name in it leads out of it or stands for two files.
    2. It says that it is a bag, in exactly the two lines of RFC 8493.
    3. `contents.json` is signed with the key that the package names.
    4. Every file that the signed contents list is there with its hash, and no other file is.
    5. Every manifest of the bag lists exactly the files that it must, with the hashes that they have.
    6. The head is signed with the same key and is the one that the contents name.
    7. The entries are one unbroken chain from the first to the head.
    8. Media, definitions, readings, hearings and findings are those that the entries name.
    9. A zip holds nothing besides its files; of one that was packed again only the files are compared.
    10. The key is the one that the caller knows.

    Raises `NotAPackageError` where there is nothing to check.
    """
    report = Report()
    try:
        container = open_package(place)  # (1)
    except UnreadableFileError as error:
        report.cannot("", str(error))
        return report.outcome(None, None, key)
    for name, fault in container.faults:
        report.found(name, fault)
    stored = _fingerprints(container, report)
    check_declaration(container, report)  # (2)
    public_key = _public_key(container, report)
    contents = _signed_contents(container, public_key, report)  # (3)
    if contents is not None:
        _compare_files(contents, stored, report)  # (4)
    check_bag(container, stored, report)  # (5)
    head = _signed_head(container, public_key, contents, report)  # (6)
    entries = _entries(container)
    if head is not None:
        _check_entries(entries, contents, head, report)  # (7)
    for path, seq, what in record_problems(container, entries, contents):  # (8)
        report.found(path, what, seq)
    if isinstance(container, Zip) and not container.packed_again:
        _check_zip(container, report)  # (9)
    return report.outcome(contents, public_key, key)  # (10)


def _fingerprints(container: Container, report: Report) -> dict[str, Fingerprint]:
    """Hash every file once, as it is stored."""
    stored: dict[str, Fingerprint] = {}
    for name in container.names:
        try:
            stored[name] = fingerprint_of(container, name)
        except UnreadableFileError as error:
            report.found(name, str(error))
    return stored


def _public_key(container: Container, report: Report) -> bytes | None:
    pem = read_or_none(container, paths.SIGNING_KEY)
    try:
        return read_public_key(pem or b"")
    except BadPublicKeyError as error:
        report.found(paths.SIGNING_KEY, "The file is missing." if pem is None else str(error))
        return None


def _signed_contents(container: Container, public_key: bytes | None, report: Report) -> Contents | None:
    content = read_or_none(container, paths.CONTENTS)
    signature = read_or_none(container, paths.CONTENTS_SIGNATURE)
    if content is None or signature is None:
        absent = paths.CONTENTS if content is None else paths.CONTENTS_SIGNATURE
        report.found(absent, "The file is missing, so the package is not signed.")
    elif public_key is not None and not signature_fits(public_key, content, signature):
        report.found(paths.CONTENTS, "The signature does not fit these contents and this key.")
        report.found(paths.CONTENTS_SIGNATURE, "It is not the signature of these contents by this key.")
    try:
        return None if content is None else read_contents(content)
    except UnknownVersionError as error:
        report.cannot(paths.CONTENTS, str(error))
    except BadContentsError as error:
        report.found(paths.CONTENTS, str(error))
    return None


def _compare_files(contents: Contents, stored: Mapping[str, Fingerprint], report: Report) -> None:
    for path, listed in contents.files.items():
        there = stored.get(path)
        if there is None:
            report.missing(path)
        elif (there.size, there.sha256) != (listed.bytes, listed.sha256):
            report.found(path, "The file is changed: its hash is not the one that the signed contents list.")
    unlisted = {paths.CONTENTS, paths.CONTENTS_SIGNATURE}
    for path in stored:
        if path not in contents.files and path not in unlisted and not paths.TAG_MANIFEST.fullmatch(path):
            report.found(path, "The file is not listed in the signed contents.")


def _signed_head(
    container: Container,
    public_key: bytes | None,
    contents: Contents | None,
    report: Report,
) -> dict[str, Any] | None:
    """Return the head that the package states, compared with its signature and with the contents."""
    content = read_or_none(container, paths.HEAD)
    signature = read_or_none(container, paths.HEAD_SIGNATURE)
    if content is None or signature is None:
        report.missing(paths.HEAD if content is None else paths.HEAD_SIGNATURE)
        return None
    if public_key is not None and not signature_fits(public_key, content, signature):
        report.found(paths.HEAD, "The signature does not fit this head and this key.")
    try:
        head = read_json(content)
    except AmbiguousJsonError as error:
        report.found(paths.HEAD, str(error))
        return None
    sound = isinstance(head, dict) and isinstance(head.get("seq"), int) and is_sha256(head.get("hash"))
    if not sound or head.get("type") != "limitwitness head" or not isinstance(head.get("job"), str):
        report.found(paths.HEAD, "These bytes do not state a journal head.")
        return None
    if contents is not None:
        named = (contents.job, contents.head_seq, contents.head_hash, contents.head_time)
        if (head["job"], head["seq"], head["hash"], head.get("time")) != named:
            report.found(paths.HEAD, "The head is not the one that the contents name.")
        if contents.entries != contents.head_seq + 1:
            report.found(paths.CONTENTS, "The number of entries does not fit the head.")
    return head  # type: ignore[no-any-return]


def _entries(container: Container) -> dict[int, tuple[bytes, bytes | None]]:
    """Return envelope and payload of every entry that has an envelope, by the number in its file name."""
    entries: dict[int, tuple[bytes, bytes | None]] = {}
    for name in container.names:
        match = paths.ENTRY_FILE.fullmatch(name)
        if match is None or match[2] != "envelope":
            continue
        seq = int(match[1])
        envelope = read_or_none(container, name)
        if envelope is not None:
            entries[seq] = (envelope, read_or_none(container, paths.payload_path(seq)))
    return entries


def _check_entries(
    entries: Mapping[int, tuple[bytes, bytes | None]],
    contents: Contents | None,
    head: Mapping[str, Any],
    report: Report,
) -> None:
    stored = [entries[seq] for seq in sorted(entries)]
    if head["seq"] > len(stored) + 100_000:
        report.found(paths.HEAD, "The head counts far more entries than there are files.")
        return
    findings = check_chain(stored, job=head["job"], head_seq=head["seq"], head_hash=head["hash"])
    for problem in findings.problems:
        report.found(paths.envelope_path(problem.seq), problem.what, problem.seq)
    if contents is not None and findings.redacted != contents.redacted:
        for seq in sorted(set(findings.redacted) ^ set(contents.redacted)):
            report.found(paths.payload_path(seq), "The contents and the files differ on its removal.", seq)


def _check_zip(container: Zip, report: Report) -> None:
    """Compare the zip with the one form in which packages are written."""
    try:
        parts = [part_of(container.root + name, reader_of(container, name)) for name in container.names]
        place = 0
        with container.place.open("rb") as file:
            for chunk in zip_chunks(parts):
                if file.read(len(chunk)) != chunk:
                    break
                place += len(chunk)
            else:
                if not file.read(1):
                    return
    except (UnreadableFileError, OverflowError):
        place = 0
    what = (
        f"The zip is not as packages are written, from byte {place} on; its files were compared one by one."
    )
    report.found("", what)
