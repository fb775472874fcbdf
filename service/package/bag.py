"""Tag files and manifests of a bag (RFC 8493, BagIt 1.0), written and read. Bare Python."""

import re
from collections.abc import Mapping, Sequence

DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
"""The one and only content of `bagit.txt`: two lines, no byte-order mark (RFC 8493, 2.1.1)."""

ALGORITHMS = ("sha256", "sha512")
"""Every manifest is written with each of these (RFC 8493, 2.4)."""

_LINE = re.compile(r"([0-9a-fA-F]+)[ \t]+(\*?)(.+)")


class BadBagError(ValueError):
    """A tag file of the bag is not as RFC 8493 wants it."""


def manifest(digests: Mapping[str, str]) -> bytes:
    """Return a manifest: one line a file, hex digest and path, sorted by path (RFC 8493, 2.1.3)."""
    lines = (f"{digest}  {_escaped(path)}\n" for path, digest in sorted(digests.items()))
    return "".join(lines).encode()


def read_manifest(content: bytes) -> dict[str, str]:
    """Return path to lower-case digest; raises `BadBagError` for a broken line or a path given twice."""
    digests: dict[str, str] = {}
    for number, line in enumerate(_text(content).splitlines(), start=1):
        if not line.strip():
            continue
        match = _LINE.fullmatch(line)
        if match is None:
            raise BadBagError(f"Line {number} is not a digest and a path.")
        path = _unescaped(match[3]).removeprefix("./")
        if path in digests:
            raise BadBagError(f"{path} is listed twice.")
        digests[path] = match[1].lower()
    return digests


def bag_info(fields: Sequence[tuple[str, str]]) -> bytes:
    """Return `bag-info.txt` of labels and values, in the given order (RFC 8493, 2.2.2)."""
    return "".join(f"{label}: {' '.join(value.split())}\n" for label, value in fields).encode()


def read_bag_info(content: bytes) -> dict[str, str]:
    """Return the labels of `bag-info.txt` with their last value; continued lines are joined."""
    fields: dict[str, str] = {}
    label = ""
    for line in _text(content).splitlines():
        if line[:1] in {" ", "\t"} and label:
            fields[label] += " " + line.strip()
        elif line.strip():
            label, colon, value = line.partition(":")
            if not colon:
                raise BadBagError(f"{line[:40]!r} is not a label and a value.")
            fields[label] = value.strip()
    return fields


def payload_oxum(sizes: Mapping[str, int]) -> str:
    """Return octets and streams of the payload files, as "octets.streams" (RFC 8493, 2.2.2)."""
    payload = [size for path, size in sizes.items() if path.startswith("data/")]
    return f"{sum(payload)}.{len(payload)}"


def _text(content: bytes) -> str:
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise BadBagError("The file is not UTF-8.") from error
    if text.startswith("\ufeff"):
        raise BadBagError("The file starts with a byte-order mark.")
    return text


def _escaped(path: str) -> str:
    return path.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")


def _unescaped(path: str) -> str:
    for code, character in (("%0A", "\n"), ("%0a", "\n"), ("%0D", "\r"), ("%0d", "\r"), ("%25", "%")):
        path = path.replace(code, character)
    return path
