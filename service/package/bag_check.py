"""Is a package a bag, and do its manifests say what is there? RFC 8493, sections 2.1 and 2.2. Bare Python."""

from collections.abc import Iterator, Mapping

from service.package import paths
from service.package.bag import (
    ALGORITHMS,
    DECLARATION,
    BadBagError,
    manifest,
    payload_oxum,
    read_bag_info,
    read_manifest,
)
from service.package.container import Container, Fingerprint, read_or_none
from service.package.findings_of_check import Report
from service.package.paths import TAG_MANIFEST


def check_declaration(container: Container, report: Report) -> None:
    """Compare `bagit.txt` with the only content it may have."""
    content = read_or_none(container, paths.BAG_DECLARATION)
    if content is None:
        report.found(paths.BAG_DECLARATION, "The file is missing: this is no bag.")
    elif content != DECLARATION:
        report.found(paths.BAG_DECLARATION, "The file is not the two lines that RFC 8493 demands.")


def check_bag(container: Container, stored: Mapping[str, Fingerprint], report: Report) -> None:
    """Compare manifests and counts with what is there; RFC 8493 sections 2.1.3, 2.2.1 and 2.2.2."""
    payload = {name: found for name, found in stored.items() if name.startswith("data/")}
    tags = {name: stored[name] for name in stored if name not in payload and not TAG_MANIFEST.fullmatch(name)}
    for kind, due in (("manifest", payload), ("tagmanifest", tags)):
        for algorithm in ALGORITHMS:
            digests = {name: str(getattr(found, algorithm)) for name, found in due.items()}
            for path, fault in _manifest_faults(container, f"{kind}-{algorithm}.txt", digests):
                report.found(path, fault)
    for name in stored:
        other = TAG_MANIFEST.fullmatch(name)
        if other and other[1] not in ALGORITHMS:
            report.found(name, f"Packages are written with {' and '.join(ALGORITHMS)}, not {other[1]}.")
    _check_count(container, payload, report)


def _check_count(container: Container, payload: Mapping[str, Fingerprint], report: Report) -> None:
    oxum = payload_oxum({name: found.size for name, found in payload.items()})
    try:
        stated = read_bag_info(read_or_none(container, paths.BAG_INFO) or b"").get("Payload-Oxum")
    except BadBagError as error:
        report.found(paths.BAG_INFO, str(error))
        return
    if stated != oxum:
        report.found(paths.BAG_INFO, f"Payload-Oxum is not {oxum}, the octets and files that are there.")


def _manifest_faults(container: Container, name: str, due: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Yield path and fault of every file on which a manifest and what is there differ.

    Where they do not, the manifest still has to be as packages are written, so that each of its bytes counts.
    """
    content = read_or_none(container, name)
    if content is None:
        yield name, "The file is missing."
        return
    if content == manifest(due):
        return
    yield name, "The manifest is not the one of the files that are there."
    try:
        listed = read_manifest(content)
    except BadBagError as error:
        yield name, str(error)
        return
    for path in sorted(set(due) | set(listed)):
        if path not in listed:
            yield path, f"{name} does not list this file."
        elif path not in due:
            yield path, f"{name} lists this file, which is not there."
        elif listed[path] != due[path]:
            yield path, f"{name} lists another hash for this file."
