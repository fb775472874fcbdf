"""How many microphones one process listens to, and the threads that do the listening off the event loop."""

import asyncio
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Protocol, TypeVar

from service.domain.refusals import TooBusy

THREADS = max(2, min(8, os.cpu_count() or 2))
"""Threads that hear; a stream uses one of them for at most a second of sound at a time."""

RETRY_S = 10
HANDOVER_S = 20.0

Answer = TypeVar("Answer")
Key = tuple[str, str]
"""Device and job: one stream at a time."""


class Seated(Protocol):
    """A stream that can be asked to make room for a newer one of its own device."""

    async def give_way(self) -> None:
        """End, keeping what was received; returns when that is done."""


@dataclass
class Seats:
    """The streams of one process; `limit` of them at a time."""

    limit: int
    taken: dict[Key, Seated] = field(default_factory=dict)
    _pool: ThreadPoolExecutor | None = None

    async def sit(self, key: Key, stream: Seated) -> None:
        """Take a seat; an older stream of the same device ends first. Raises TooBusy where none is free."""
        older = self.taken.get(key)
        if older is not None:
            await asyncio.wait_for(older.give_way(), HANDOVER_S)
        if len(self.taken) >= self.limit:
            raise TooBusy(
                f"{self.limit} microphones are listened to at a time, and all of them are taken.",
                retry_after_s=RETRY_S,
            )
        self.taken[key] = stream

    def leave(self, key: Key, stream: Seated) -> None:
        """Give the seat back."""
        if self.taken.get(key) is stream:
            del self.taken[key]

    async def off_loop(self, does: Callable[[], Answer]) -> Answer:
        """Do something that takes its time in a thread of the listeners."""
        if self._pool is None:
            self._pool = ThreadPoolExecutor(THREADS, thread_name_prefix="listening")
        return await asyncio.get_running_loop().run_in_executor(self._pool, does)

    def close(self) -> None:
        """End the threads."""
        if self._pool is not None:
            self._pool.shutdown()
            self._pool = None
