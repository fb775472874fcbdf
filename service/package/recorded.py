"""Compare what lies beside the entries of a package with what the entries name. Bare Python.

Readings, hearings and findings lie in the package once more, apart from the entries, so that a reader need
not look through them; here they are held to be the same. So are media and pinned definitions, by their
hashes.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from service.journal.digests import is_sha256, sha256_hex
from service.journal.envelope import BadEnvelopeError, read_envelope, read_payload
from service.journal.strict_json import AmbiguousJsonError, read_json
from service.package import paths
from service.package.container import Container, UnreadableFileError, fingerprint_of, read_or_none
from service.package.contents import Contents

RecordProblem = tuple[str, int | None, str]
"""Path, number of the entry or None, and what is wrong."""

Stored = Mapping[int, tuple[bytes, bytes | None]]


def media_named(body: object) -> Iterator[str]:
    """Yield every SHA-256 that stands under a key `media` or `annotated` in an entry's body, at any depth."""
    pending = [body]
    while pending:
        part = pending.pop()
        if isinstance(part, Mapping):
            for key, value in part.items():
                names = value if isinstance(value, list) else [value]
                if key in {"media", "annotated"}:
                    yield from (name for name in names if is_sha256(name))
                pending.append(value)
        elif isinstance(part, list):
            pending += part


def definitions_named(kind: str, seq: int, body: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield name and SHA-256 of the definitions that an entry pins, at the opening or by a change."""
    pins = body.get("pins") if kind == "job_opened" else None
    if isinstance(pins, Mapping):
        yield from ((str(name), str(digest)) for name, digest in pins.items() if is_sha256(digest))
    if kind == "definition_changed" and is_sha256(body.get("now")):
        yield f"{body.get('what')}-{seq}", str(body["now"])


def results(kind: str, seq: int, body: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """Yield the path and the value of what an entry gives to be read apart: a reading or a hearing."""
    if kind == "photo_read" and "reading" in body:
        yield f"{paths.READINGS}{seq:05d}.json", body["reading"]
    if kind == "clip_heard" and "hearing" in body:
        yield f"{paths.HEARINGS}{seq:05d}.json", body["hearing"]


def record_problems(
    container: Container, entries: Stored, contents: Contents | None
) -> Iterator[RecordProblem]:
    """Yield what does not fit the entries.

    1. Every file in the media folder is named by the hash of its bytes.
    2. Every medium that an entry names is there, or the contents say why it is withheld.
    3. Every definition that an entry pins is there with that hash, or the contents say why not.
    4. Readings, hearings and findings are what the entries say, and none is missing or added.
    """
    media = {match[1]: name for name in container.names if (match := paths.MEDIA_FILE.fullmatch(name))}
    yield from _misnamed(container, media)  # (1)
    bodies = _bodies(entries)
    withheld = {} if contents is None else contents.withheld
    for seq, (_, body) in bodies.items():  # (2)
        for name in media_named(body):
            if name not in media and name not in withheld:
                yield (
                    paths.envelope_path(seq),
                    seq,
                    f"The photo or clip {name} that this entry names is missing.",
                )
    if contents is not None:
        yield from _definitions(container, bodies, contents)  # (3)
    yield from _apart(container, bodies)  # (4)


def _bodies(entries: Stored) -> dict[int, tuple[str, Mapping[str, Any]]]:
    """Return kind and body of every entry that can be read; the others are reported with the chain."""
    bodies = {}
    for seq, (envelope, payload) in entries.items():
        try:
            stated = read_envelope(envelope)
            body = {} if payload is None else read_payload(payload, personal=stated.personal)
        except BadEnvelopeError:
            continue
        bodies[seq] = (str(stated.fields["kind"]), body)
    return bodies


def _misnamed(container: Container, media: Mapping[str, str]) -> Iterator[RecordProblem]:
    for digest, name in media.items():
        try:
            found = fingerprint_of(container, name).sha256
        except UnreadableFileError:
            continue  # reported where every file is hashed
        if found != digest:
            yield name, None, "The file's bytes do not have the hash that is its name."


def _definitions(
    container: Container,
    bodies: Mapping[int, tuple[str, Mapping[str, Any]]],
    contents: Contents,
) -> Iterator[RecordProblem]:
    for seq, (kind, body) in bodies.items():
        for name, digest in definitions_named(kind, seq, body):
            path = contents.definitions.get(name)
            content = read_or_none(container, path) if path else None
            if content is None and digest not in contents.withheld:
                yield path or paths.envelope_path(seq), seq, f"The {name} that this entry pins is missing."
            elif content is not None and sha256_hex(content) != digest:
                yield str(path), seq, f"This is not the {name} that the entry pins."


def _apart(
    container: Container, bodies: Mapping[int, tuple[str, Mapping[str, Any]]]
) -> Iterator[RecordProblem]:
    due: dict[str, tuple[int | None, Any]] = {paths.FINDINGS: (None, findings_of(bodies))}
    for seq, (kind, body) in bodies.items():
        due.update((path, (seq, value)) for path, value in results(kind, seq, body))
    there = {name for name in container.names if name.startswith((paths.READINGS, paths.HEARINGS))}
    for path in sorted(there - set(due)):
        yield path, None, "No entry gives this result."
    for path, (entry, value) in due.items():
        content = read_or_none(container, path)
        try:
            if content is None or read_json(content) != value:
                yield path, entry, "This is missing or not what the entries say."
        except AmbiguousJsonError as error:
            yield path, entry, str(error)


def findings_of(bodies: Mapping[int, tuple[str, Mapping[str, Any]]]) -> list[dict[str, Any]]:
    """Return every finding in the order of the entries, each with the number of its entry."""
    return [{"entry": seq, **body} for seq, (kind, body) in sorted(bodies.items()) if kind == "finding_made"]
