"""One exact way to write a zip: the same files give the same bytes, each with one meaning. Bare Python.

A zip file holds much besides its files: times, attributes, comments, gaps between the parts. In a package
each of them is fixed: files are stored uncompressed in the order of their names, dated 1980-01-01, and
nothing else is there. So a changed byte anywhere in the zip is found, also where no file is touched. In a
zip that another program packed again only the files can be compared.
"""

import struct
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

_MADE_BY_UNIX = 3 << 8 | 20
_VERSION_NEEDED = 20
_UTF_8_NAMES = 0x800
_STORED = 0
_NO_TIME = 0
_1980_01_01 = 0x21
_PLAIN_FILE = 0o100644 << 16

LARGEST = 2**32 - 1
MOST_FILES = 2**16 - 2


@dataclass(frozen=True)
class ZipPart:
    """One file of the zip: its full name, its size in bytes, its CRC-32, and a way to read its bytes."""

    name: str
    size: int
    crc: int
    chunks: Callable[[], Iterable[bytes]]


def part_of(name: str, chunks: Callable[[], Iterable[bytes]]) -> ZipPart:
    """Read the bytes once for their size and CRC-32."""
    size = crc = 0
    for chunk in chunks():
        size += len(chunk)
        crc = zlib.crc32(chunk, crc)
    return ZipPart(name, size, crc, chunks)


def bears_marks(found: zipfile.ZipInfo) -> bool:
    """Say whether a file lies in a zip as packages are written: stored, the one date, no extras."""
    plain = found.compress_type == _STORED and found.flag_bits == _UTF_8_NAMES and not found.extra
    return plain and found.date_time == (1980, 1, 1, 0, 0, 0)


def zip_chunks(parts: Iterable[ZipPart]) -> Iterator[bytes]:
    """Yield the bytes of the zip, piece by piece, in the order of the names.

    Raises `OverflowError` beyond 65,534 files or 4 GiB, where this form of zip ends.
    """
    directory: list[bytes] = []
    offset = 0
    for part in sorted(parts, key=lambda part: part.name):
        name = part.name.encode()
        if offset + part.size + len(name) + 30 > LARGEST or len(directory) >= MOST_FILES:
            raise OverflowError("This is too much for one zip file.")
        fields = (_UTF_8_NAMES, _STORED, _NO_TIME, _1980_01_01, part.crc, part.size, part.size, len(name), 0)
        directory.append(
            struct.pack(
                "<4s6H3L5H2L",
                b"PK\1\2",
                _MADE_BY_UNIX,
                _VERSION_NEEDED,
                *fields,
                0,
                0,
                0,
                _PLAIN_FILE,
                offset,
            )
            + name
        )
        yield struct.pack("<4s5H3L2H", b"PK\3\4", _VERSION_NEEDED, *fields) + name
        yield from part.chunks()
        offset += 30 + len(name) + part.size
    listing = b"".join(directory)
    count = len(directory)
    yield listing
    yield struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, count, count, len(listing), offset, 0)
