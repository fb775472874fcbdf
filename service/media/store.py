"""Keeps bytes under the hash of their content, in a local folder, so that what was acknowledged survives.

Order of a write: temporary file, fsync of the file, rename to its name, fsync of the folder. The name is
the hash, so a second write of the same content is no write at all, and two writers of it cannot disturb
each other.
"""

import hashlib
import os
import shutil
import tempfile
import time
from pathlib import Path

from service.domain.refusals import Conflict, NotFound, TooBusy

UNFINISHED = ".part-"
"""How the names of files begin that are still being written."""


class LocalMediaStore:
    """Implements `ports.MediaStore` in `folder`; refuses new bytes when fewer than `floor_bytes` are free."""

    def __init__(self, folder: Path, floor_bytes: int = 0) -> None:
        self._folder = folder
        self._floor_bytes = floor_bytes
        folder.mkdir(parents=True, exist_ok=True)

    def put(self, content: bytes) -> str:
        """Store `content` and return its SHA-256; durable when this returns, and idempotent."""
        sha256 = hashlib.sha256(content).hexdigest()
        place = self._place(sha256)
        if place.exists() and place.stat().st_size == len(content):
            return sha256
        self._require_room(len(content))
        try:
            self._write(place, content)
        except OSError as error:
            raise TooBusy(
                "The media store cannot write; nothing of this file was kept. Keep it and send it again.",
                retry_after_s=60,
            ) from error
        return sha256

    def get(self, sha256: str) -> bytes:
        """Return the bytes of this hash, compared with it on every read."""
        try:
            content = self._place(sha256).read_bytes()
        except FileNotFoundError as error:
            raise NotFound(f"No media of hash {sha256[:12]} are stored.") from error
        if hashlib.sha256(content).hexdigest() != sha256:
            raise Conflict(f"The stored bytes of {sha256[:12]} have changed since they were recorded.")
        return content

    def has(self, sha256: str) -> bool:
        """Tell whether bytes of this hash are stored."""
        return self._place(sha256).exists()

    def sweep(self, older_than_s: float = 3600) -> int:
        """Remove what writers left unfinished when they were killed; nobody was told that it was kept."""
        cut = time.time() - older_than_s
        left = [file for file in self._folder.rglob(f"{UNFINISHED}*") if file.stat().st_mtime < cut]
        for file in left:
            file.unlink(missing_ok=True)
        return len(left)

    def _place(self, sha256: str) -> Path:
        if len(sha256) != 64 or not set(sha256) <= set("0123456789abcdef"):
            raise NotFound("Media are named by 64 lower-case hexadecimal digits.")
        return self._folder / sha256[:2] / sha256

    def _require_room(self, size: int) -> None:
        free = shutil.disk_usage(self._folder).free
        if free - size < self._floor_bytes:
            raise TooBusy(
                f"The disk is nearly full ({free // 1_000_000} MB free); nothing of this file was kept.",
                retry_after_s=300,
            )

    def _write(self, place: Path, content: bytes) -> None:
        if not place.parent.exists():
            place.parent.mkdir(exist_ok=True)
            _sync_folder(self._folder)
        handle, name = tempfile.mkstemp(dir=place.parent, prefix=UNFINISHED)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            Path(name).rename(place)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
        _sync_folder(place.parent)


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
