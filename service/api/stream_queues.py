"""What waits in a stream: sound to be heard, bounded by making the sender wait, and messages to be sent."""

import asyncio
from collections import deque
from typing import Any, Generic, TypeVar

MOST_WAITING = 200
"""Messages that wait for a device to read them, partial words not counted."""

Item = TypeVar("Item")


class Inbox(Generic[Item]):
    """Takes what came at once, so that nothing received is lost, and then lets its giver wait for room."""

    def __init__(self, most_bytes: int) -> None:
        self._most = most_bytes
        self._waiting: deque[tuple[Item, int]] = deque()
        self._bytes = 0
        self._filled, self._room = asyncio.Event(), asyncio.Event()

    async def put(self, item: Item, size: int = 0) -> None:
        """Put something in; returns when there is room for more."""
        self._waiting.append((item, size))
        self._bytes += size
        self._filled.set()
        while self._bytes > self._most:
            self._room.clear()
            await self._room.wait()

    def put_last(self, item: Item) -> None:
        """Put something in behind all that waits, when nobody puts anything in any more."""
        self._waiting.append((item, 0))
        self._filled.set()

    async def get(self) -> Item:
        """Take the oldest out."""
        while not self._waiting:
            self._filled.clear()
            await self._filled.wait()
        item, size = self._waiting.popleft()
        self._bytes -= size
        self._room.set()
        return item


class Outbox:
    """Messages on their way to a device. Partial words that were not sent yet give way to newer ones."""

    def __init__(self) -> None:
        self._waiting: deque[dict[str, Any]] = deque()
        self._filled = asyncio.Event()
        self._partial: dict[str, Any] | None = None

    @property
    def full(self) -> bool:
        """Whether the device reads too slowly for what it causes."""
        return len(self._waiting) > MOST_WAITING

    def put(self, message: dict[str, Any]) -> None:
        """Add a message; on the event loop."""
        if message["type"] == "partial":
            self._partial = message
        else:
            self._partial = None
            self._waiting.append(message)
        self._filled.set()

    async def get(self) -> dict[str, Any]:
        """Take the oldest message out; the newest partial words come after all others."""
        while not self._waiting and self._partial is None:
            self._filled.clear()
            await self._filled.wait()
        if self._waiting:
            return self._waiting.popleft()
        partial, self._partial = self._partial, None
        return partial or {}
