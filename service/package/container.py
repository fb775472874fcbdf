"""Open a package from a folder or a zip and read its files, whatever a stranger has put there. Bare Python.

Nothing is unpacked and nothing outside the package is followed. What cannot be read is reported under its
path, and everything else is read all the same.
"""

import hashlib
import os
import stat
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from service.package.paths import BAG_DECLARATION, CONTENTS, ENTRIES, path_fault, twins
from service.package.stored_zip import bears_marks

CHUNK = 1 << 20
LARGEST_TOTAL = 8 << 30
LARGEST_DOCUMENT = 64 << 20
MOST_FILES = 200_000


class NotAPackageError(ValueError):
    """There is nothing here that could be a package."""


class UnreadableFileError(ValueError):
    """A file of the package cannot be read as it was written."""


@dataclass(frozen=True)
class Fingerprint:
    """Size in bytes and digests of one file as it is stored."""

    size: int
    sha256: str
    sha512: str


class Container(Protocol):
    """The files of a package, by their paths below its root, and what was wrong when they were listed."""

    names: tuple[str, ...]
    faults: tuple[tuple[str, str], ...]

    def chunks(self, name: str) -> Iterator[bytes]:
        """Yield the bytes of a file; raises `UnreadableFileError`."""
        ...


def open_package(place: Path) -> "Folder | Zip":
    """Open a folder or a zip; raises `NotAPackageError` where nothing in it is of a package."""
    if place.is_dir():
        container: Folder | Zip = Folder(place)
    elif place.is_file():
        container = Zip(place)
    else:
        raise NotAPackageError(f"There is no folder or file {place}.")
    marks = {BAG_DECLARATION, CONTENTS} & set(container.names)
    if not marks and not any(name.startswith(ENTRIES) for name in container.names):
        raise NotAPackageError(f"{place} holds neither bagit.txt nor contents.json nor entries.")
    return container


def fingerprint_of(container: Container, name: str) -> Fingerprint:
    """Hash a file as it is stored; raises `UnreadableFileError`."""
    short, long, size = hashlib.sha256(), hashlib.sha512(), 0
    for chunk in container.chunks(name):
        short.update(chunk)
        long.update(chunk)
        size += len(chunk)
    return Fingerprint(size, short.hexdigest(), long.hexdigest())


def document(container: Container, name: str) -> bytes:
    """Return a file's bytes; raises `UnreadableFileError` beyond 64 MiB, which no document has."""
    content = bytearray()
    for chunk in container.chunks(name):
        content += chunk
        if len(content) > LARGEST_DOCUMENT:
            raise UnreadableFileError("The file is larger than 64 MiB, which no document of a package is.")
    return bytes(content)


def read_or_none(container: Container, name: str) -> bytes | None:
    """Return a document of the package, or None where it is missing or cannot be read."""
    if name not in container.names:
        return None
    try:
        return document(container, name)
    except UnreadableFileError:
        return None


class Folder:
    """A package that lies in a folder. Links are reported and never followed."""

    def __init__(self, place: Path) -> None:
        self.place = place
        names: list[str] = []
        faults: list[tuple[str, str]] = []
        for folder, folders, files in os.walk(place):
            for name in sorted([*folders, *files]):
                path = Path(folder, name)
                within = path.relative_to(place).as_posix()
                kind = path.lstat().st_mode
                if stat.S_ISDIR(kind):
                    continue
                if not stat.S_ISREG(kind):
                    faults.append((within, "This is a link or a special file; it was not followed."))
                    continue
                names.append(within)
        self.names, more = _accepted(names)
        self.faults = (*faults, *more)

    def chunks(self, name: str) -> Iterator[bytes]:
        """Yield the bytes of a file; raises `UnreadableFileError`."""
        try:
            with (self.place / name).open("rb") as file:
                while chunk := file.read(CHUNK):
                    yield chunk
        except OSError as error:
            raise UnreadableFileError(f"The file cannot be read: {error.strerror}.") from error


class Zip:
    """A package in a zip, under one folder name as RFC 8493 section 4 wants it, or without a folder.

    `packed_again` says that another program wrote the zip: then no file of it bears the marks of
    `stored_zip`.
    """

    def __init__(self, place: Path) -> None:
        self.place = place
        try:
            self._zip = zipfile.ZipFile(place)
        except Exception as error:  # a stranger's zip can fail in any way
            with place.open("rb") as file:
                if file.read(2) != b"PK":
                    raise NotAPackageError(f"{place} is neither a folder nor a zip.") from error
            raise UnreadableFileError(f"The zip is damaged and cannot be opened: {error}.") from error
        listed = [found for found in self._zip.infolist() if not found.is_dir()]
        self.packed_again = not any(bears_marks(found) for found in listed)
        bare = any(found.filename in {BAG_DECLARATION, CONTENTS} for found in listed)
        self.root = "" if bare or not listed else listed[0].filename.split("/")[0] + "/"
        faults = [(found.filename, "The zip lists this name twice.") for found in _doubled(listed)]
        outside = [found.filename for found in listed if not found.filename.startswith(self.root)]
        faults += [(name, f"The zip holds this beside the folder {self.root[:-1]}.") for name in outside]
        if sum(found.file_size for found in listed) > LARGEST_TOTAL or len(listed) > MOST_FILES:
            raise UnreadableFileError("The zip would unpack to more than 8 GiB or 200,000 files.")
        self._files = {
            found.filename.removeprefix(self.root): found for found in listed if found.filename not in outside
        }
        self.names, more = _accepted(list(self._files))
        self.faults = (*faults, *more)

    def chunks(self, name: str) -> Iterator[bytes]:
        """Yield the bytes of a file; raises `UnreadableFileError`."""
        found = self._files[name]
        if stat.S_ISLNK(found.external_attr >> 16):
            raise UnreadableFileError("This is a link; it was not followed.")
        try:
            with self._zip.open(found) as file:
                while chunk := file.read(CHUNK):
                    yield chunk
        except Exception as error:  # a stranger's zip can fail in any way
            raise UnreadableFileError(f"The file cannot be read out of the zip: {error}.") from error


def reader_of(container: Container, name: str) -> Callable[[], Iterator[bytes]]:
    """Return a function that reads a file anew at each call."""
    return lambda: container.chunks(name)


def _accepted(names: list[str]) -> tuple[tuple[str, ...], list[tuple[str, str]]]:
    """Split names into those to read, sorted, and the reasons why others are not."""
    faults = [(name, fault) for name in names if (fault := path_fault(name))]
    refused = {name for name, _ in faults}
    kept = sorted({name for name in names if name not in refused})
    faults += [(second, f"Some systems take this for {first}.") for first, second in twins(kept)]
    return tuple(kept), faults


def _doubled(listed: list[zipfile.ZipInfo]) -> Iterator[zipfile.ZipInfo]:
    seen: set[str] = set()
    for found in listed:
        if found.filename in seen:
            yield found
        seen.add(found.filename)
