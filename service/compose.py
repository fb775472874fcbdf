"""Puts the house together: the one file that knows every concrete class. Nothing is built at import.

A process group is a web process and workers on one folder: `record.sqlite`, `media/`, `signing-key.pem`.
Each process composes its own house from the same settings; what they share is in the folder alone.
"""

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import uuid_utils
from fastapi import FastAPI
from sqlalchemy import Engine

from service.access.passwords import Argon2Passwords
from service.access.signing_key import earlier_keys, load_or_create_key
from service.access.tokens import OpaqueTokens
from service.api.app import build_app
from service.database.engine import open_engine
from service.database.journal_records import Seals
from service.database.schema import upgrade
from service.database.transaction import SqlTransactions
from service.definitions.actuator import load_actuator
from service.definitions.chart import load_chart, load_wiring
from service.definitions.layout import load_layout
from service.definitions.procedure import load_procedure, shipped_procedure
from service.definitions.trade_files import TradeFiles
from service.domain.job_state import JobState
from service.engines.hearing import SpeechHearing
from service.engines.reading import VisionReading
from service.journal.heads import SignedHead
from service.journal.keys import SigningKey
from service.media.limits import MediaLimits
from service.media.store import LocalMediaStore
from service.package.build import JobRecord, build_package
from service.package.media_files import MediaFile
from service.pages import routes as pages
from service.ports import HEAR_CLIP, READ_PHOTO, Limits, LinkRow, MediaRow, Ports, WorkItem
from service.settings import Settings
from service.telemetry.clock import SystemClock
from service.use_cases.hear_clip import hear_clip, hearing_failed
from service.use_cases.read_photo import read_photo, reading_failed
from service.work_queue.queue import SqlWorkQueue
from service.work_queue.worker import Worker


class DefinitionFiles:
    """Implements `ports.Definitions`; what was read once is kept by its bytes, since values never change."""

    layout = staticmethod(lru_cache(maxsize=32)(load_layout))
    chart = staticmethod(lru_cache(maxsize=32)(load_chart))
    circuits = staticmethod(lru_cache(maxsize=32)(load_wiring))
    actuator = staticmethod(lru_cache(maxsize=32)(load_actuator))
    procedure = staticmethod(lru_cache(maxsize=32)(load_procedure))
    shipped_procedure = staticmethod(shipped_procedure)


@dataclass(frozen=True)
class ZipPackages:
    """Implements `ports.Packages` by the package room."""

    key: SigningKey
    media: LocalMediaStore
    versions: Mapping[str, Any]
    earlier: frozenset[bytes] = frozenset()

    def build(
        self,
        sealed: Sequence[tuple[bytes, bytes | None]],
        head: SignedHead,
        media: Sequence[tuple[MediaRow, LinkRow]],
        state: JobState,
    ) -> bytes:
        """Return the package as a zip."""
        with tempfile.TemporaryDirectory() as folder:
            return self.write(Path(folder) / "package.zip", sealed, head, media, state).read_bytes()

    def write(
        self,
        out: Path,
        sealed: Sequence[tuple[bytes, bytes | None]],
        head: SignedHead,
        media: Sequence[tuple[MediaRow, LinkRow]],
        state: JobState,
    ) -> Path:
        """Write the package to a folder, or to a zip where the name ends in `.zip`."""
        files = [MediaFile(row.sha256, row.type, link.shows, link.of) for row, link in media]
        record = JobRecord(sealed, head, files, self.versions, state, self.earlier)
        return build_package(record, self.media.get, self.key, out)


@dataclass(frozen=True)
class House:
    """One process's house over the shared folder."""

    settings: Settings
    ports: Ports
    key: SigningKey
    engine: Engine

    def app(self) -> FastAPI:
        """Return the web application."""
        app = build_app(self.ports, version("limitwitness"), self.close)
        pages.install(app)
        return app

    def worker(self, name: str) -> Worker:
        """Return the worker of this name, that is of this place in the deployment."""
        does = {
            HEAR_CLIP: lambda item: hear_clip(self.ports, item),
            READ_PHOTO: lambda item: read_photo(self.ports, item),
        }
        settings = self.settings
        return Worker(name, self._queue, does, self._give_up, settings.work_lease_s, settings.work_attempts)

    def close(self) -> None:
        """Close the database."""
        self.engine.dispose()

    @contextmanager
    def _queue(self) -> Iterator[SqlWorkQueue]:
        with self.ports.transactions.writing() as tx:
            if not isinstance(tx.queue, SqlWorkQueue):
                raise TypeError("The embedded worker needs the embedded queue.")
            yield tx.queue

    def _give_up(self, item: WorkItem, why: str) -> None:
        """Record in the job that work was given up.

        If that fails too, close it with the reason in the queue.
        """
        failed = {HEAR_CLIP: hearing_failed, READ_PHOTO: reading_failed}[item.kind]
        failed(self.ports, item, why)


def compose(settings: Settings, **replaced: Any) -> House:  # noqa: ANN401 - tests hand in ports of their own
    """Build the house on the settings' folder, migrating its database; `replaced` puts other ports in."""
    folder = settings.folder
    folder.mkdir(parents=True, exist_ok=True)
    key = load_or_create_key(folder / "signing-key.pem")
    earlier = earlier_keys(folder / "earlier-keys")
    engine = open_engine(folder / "record.sqlite", max_pages=settings.database_max_pages)
    upgrade(engine)
    clock = replaced.get("clock") or SystemClock()
    media = LocalMediaStore(folder / "media", settings.disk_floor_bytes)
    media.sweep()
    hearing = replaced.get("hearing") or SpeechHearing()
    reading = replaced.get("reading") or VisionReading()
    built: dict[str, Any] = {
        "transactions": SqlTransactions(
            engine, lambda connection: SqlWorkQueue(connection, clock), Seals(key, new_id, earlier=earlier)
        ),
        "media": media,
        "inspector": _media_limits(settings),
        "clock": clock,
        "new_id": new_id,
        "passwords": Argon2Passwords(settings.argon2_memory_kib, settings.password_min),
        "tokens": OpaqueTokens(),
        "limits": _limits(settings),
        "hearing": hearing,
        "reading": reading,
        "definitions": DefinitionFiles(),
        "trade": TradeFiles(),
        "packages": ZipPackages(key, media, {"limitwitness": version("limitwitness")}, earlier),
    }
    return House(settings, Ports(**{**built, **replaced}), key, engine)


def samples() -> Path:
    """Return the folder of sample media: beside the packages in a checkout, inside the service in a wheel."""
    inside = Path(__file__).parent / "sample_media"
    beside = Path(__file__).parents[1] / "sample_media"
    return inside if inside.exists() else beside


def new_id() -> str:
    """Return a UUIDv7: an identity, not a time."""
    return str(uuid_utils.uuid7())


def _limits(settings: Settings) -> Limits:
    names = Limits.__dataclass_fields__
    return Limits(**{name: getattr(settings, name) for name in names})


def _media_limits(settings: Settings) -> MediaLimits:
    names = MediaLimits.__dataclass_fields__
    return MediaLimits(**{name: getattr(settings, name) for name in names})
