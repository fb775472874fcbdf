"""One stream between a device and the ear.

The event loop only carries messages. Hearing is done piece by piece in the listeners' threads, one piece of one
stream at a time, so that a stream that floods waits for itself; while its sound waits, nothing more is read from
it, and the network makes it wait too. Whatever ends a stream, what was received is heard and kept first.
"""

import asyncio
import contextlib
import json
import math
import uuid
from functools import partial
from typing import Any, Final

import structlog
from fastapi import WebSocket, WebSocketDisconnect
from pydantic import ValidationError

from service.api.problems import body_of
from service.api.stream_ear import StreamEar
from service.api.stream_endings import (
    AGAINST_RULES,
    DEFECT,
    NORMAL,
    NOT_SOUND,
    NOT_TEXT,
    TOO_LARGE,
    DeviceGone,
    StreamEnds,
    ending_of,
)
from service.api.stream_queues import Inbox, Outbox
from service.api.stream_seats import Seats
from service.api.stream_wire import CONTROL, KINDS, Control, End, Open
from service.domain.refusals import Malformed, NotAllowed, NotSignedIn, Refusal, TooBusy
from service.ports import Asker, Ports
from service.use_cases.sign_in import recognise

log = structlog.get_logger()

MOST_MESSAGE: Final = 320_000
"""Bytes of one message: ten seconds of samples."""
SECOND: Final = 32_000  # bytes of samples
OPENING_S: Final = 10.0
SENDING_S: Final = 10.0
ASKING_S: Final = 10.0
WINDING_UP_S: Final = 5.0
NO_MORE: Final[dict[str, Any]] = {"type": "no_more"}
"""Ends the writing, once everything before it was sent; is itself not sent."""


class StreamSession:
    """One stream of one device; `token` is that of its sign-in, looked at again while it lasts."""

    def __init__(  # noqa: PLR0913 - one for each thing a stream has
        self, socket: WebSocket, ports: Ports, asker: Asker, token: str | None, job: str, seats: Seats
    ) -> None:
        self._socket, self._ports, self._asker, self._token = socket, ports, asker, token
        self._job, self._seats = job, seats
        self._loop = asyncio.get_running_loop()
        self._inbox: Inbox[tuple[bytes | Control | None, float]] = Inbox(MOST_MESSAGE)
        self._outbox = Outbox()
        self._give_way, self._over = asyncio.Event(), asyncio.Event()
        self._samples = True
        self._received, self._began = 0, math.inf

    async def give_way(self) -> None:
        """End for a newer stream of the same device; returns when everything is kept."""
        self._give_way.set()
        await self._over.wait()

    async def run(self) -> None:
        """Carry the stream from its opening message to its close."""
        carrying = asyncio.create_task(self._carry_seated())
        await asyncio.wait([carrying])
        self._over.set()
        await self._close(_ending(carrying) or StreamEnds(NORMAL))

    async def _carry_seated(self) -> None:
        key = (str(self._asker.device_id), self._job)
        opened = await self._opening()
        await self._seats.sit(key, self)
        try:
            self._samples = opened.encoding == "pcm"
            ear = await self._seats.off_loop(
                lambda: StreamEar(self._ports, self._asker, self._job, opened, self._tell)
            )
            await self._carry(ear, opened)
        finally:
            self._seats.leave(key, self)

    async def _opening(self) -> Open:
        try:
            async with asyncio.timeout(OPENING_S):
                message = await self._receive()
        except TimeoutError as error:
            raise StreamEnds(AGAINST_RULES, f"No opening message came within {OPENING_S:.0f} s.") from error
        if not isinstance(message, Open):
            raise StreamEnds(NOT_SOUND, "The first message is the opening, in text.")
        if message.encoding == "pcm" and message.channels != 1:
            raise StreamEnds(NOT_SOUND, f"Samples come in one channel; {message.channels} were declared.")
        return message

    async def _carry(self, ear: StreamEar, opened: Open) -> None:
        limits = {"idle_s": self._ports.limits.stream_idle_s, "ahead_s": self._ports.limits.stream_ahead_s}
        ready = {"type": "ready", "stream": ear.id, "step": opened.step, "message_bytes": MOST_MESSAGE}
        self._outbox.put({**ready, **limits})
        hearing = asyncio.create_task(self._hear(ear))
        writing = asyncio.create_task(self._write(ear))
        others = [asyncio.create_task(does()) for does in (self._read, self._ask, self._wait_to_give_way)]
        tasks = [hearing, writing, *others]
        await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        ending = next(filter(None, map(_ending, tasks)), StreamEnds(NORMAL))
        for task in others:
            task.cancel()
        if not hearing.done():
            self._inbox.put_last((None, 0.0))
            await asyncio.wait([hearing])
        finishing = asyncio.create_task(self._seats.off_loop(ear.finish))
        await asyncio.wait([finishing])
        self._outbox.put(NO_MORE)
        await asyncio.wait([writing], timeout=0 if isinstance(ending, DeviceGone) else WINDING_UP_S)
        writing.cancel()
        raise _ending(hearing) or _ending(finishing) or ending

    async def _read(self) -> None:
        idle_s = self._ports.limits.stream_idle_s
        while True:
            try:
                async with asyncio.timeout(idle_s):
                    message = await self._receive()
            except TimeoutError as error:
                raise StreamEnds(AGAINST_RULES, f"Nothing was received for {idle_s} s.") from error
            at = self._now()
            if isinstance(message, bytes):
                self._require_pace(len(message))
                await self._inbox.put((message, at), len(message))
            elif isinstance(message, End):
                return
            elif isinstance(message, Open):
                raise StreamEnds(AGAINST_RULES, "The stream is open already.")
            else:
                await self._inbox.put((message, at))

    async def _receive(self) -> bytes | Control:
        message = await self._socket.receive()
        if message["type"] == "websocket.disconnect":
            raise DeviceGone(NORMAL)
        sound = message.get("bytes")
        if sound is None:
            return _control(message.get("text") or "")
        if len(sound) > MOST_MESSAGE:
            raise StreamEnds(
                TOO_LARGE, f"A message has at most {MOST_MESSAGE} bytes; this one has {len(sound)}."
            )
        return bytes(sound)

    def _require_pace(self, size: int) -> None:
        """Refuse sound that comes faster than time passes: it is no microphone's, or its rate is another."""
        now = self._loop.time()
        self._began = min(self._began, now)
        self._received += size
        passed = now - self._began
        ahead_s = self._received / SECOND - passed if self._samples else 0.0
        if ahead_s > self._ports.limits.stream_ahead_s:
            raise StreamEnds(
                AGAINST_RULES,
                f"{self._received / SECOND:.0f} s of sound came in {passed:.0f} s; "
                f"{self._ports.limits.stream_ahead_s} s ahead is the limit. Is the rate right?",
            )

    async def _write(self, ear: StreamEar) -> None:
        while True:
            message = await self._outbox.get()
            if message is NO_MORE:
                return
            if message["type"] == "clock":
                ear.asked(message["number"], self._now())
            try:
                async with asyncio.timeout(SENDING_S):
                    await self._socket.send_text(json.dumps(message))
            except TimeoutError as error:
                raise StreamEnds(AGAINST_RULES, f"Messages were not read for {SENDING_S:.0f} s.") from error
            except (WebSocketDisconnect, RuntimeError, OSError) as error:
                raise DeviceGone(NORMAL) from error
            if self._outbox.full:
                raise StreamEnds(AGAINST_RULES, "Messages are read more slowly than they are caused.")

    async def _ask(self) -> None:
        """Ask for the device's place in the stream now and then, and look whether its sign-in still stands."""
        number = 0
        while True:
            number += 1
            self._outbox.put({"type": "clock", "number": number})
            await asyncio.sleep(ASKING_S)
            try:
                await asyncio.to_thread(recognise, self._ports, self._token)
            except (NotSignedIn, NotAllowed) as ended:
                raise StreamEnds(AGAINST_RULES, str(ended), ended) from ended
            except TooBusy as busy:
                log.info("sign_in_not_looked_at", why=str(busy))

    async def _wait_to_give_way(self) -> None:
        await self._give_way.wait()
        raise StreamEnds(AGAINST_RULES, "A newer stream of this device took the place of this one.")

    async def _hear(self, ear: StreamEar) -> None:
        while True:
            message, at = await self._inbox.get()
            if message is None:
                return
            if isinstance(message, bytes):
                for start in range(0, len(message), ear.piece):
                    piece = message[start : start + ear.piece]
                    await self._seats.off_loop(partial(ear.hear, piece, at))
            else:
                await self._seats.off_loop(partial(ear.note, message, at))

    def _tell(self, message: dict[str, Any]) -> None:
        self._loop.call_soon_threadsafe(self._outbox.put, message)

    def _now(self) -> float:
        return self._ports.clock.now().timestamp()

    async def _close(self, ending: StreamEnds) -> None:
        if isinstance(ending, DeviceGone):
            return
        with contextlib.suppress(RuntimeError, OSError, WebSocketDisconnect, TimeoutError):
            async with asyncio.timeout(WINDING_UP_S):
                if ending.refusal is not None:
                    problem = body_of(ending.refusal, self._socket.url.path)
                    await self._socket.send_text(json.dumps({"type": "problem", "problem": problem}))
                await self._socket.close(ending.code, ending.shown)


def _control(text: str) -> Control:
    try:
        stated = json.loads(text)
    except ValueError as error:
        raise StreamEnds(NOT_TEXT, "Text is JSON; sound comes in binary messages.") from error
    kind = stated.get("type") if isinstance(stated, dict) else None
    if kind not in KINDS:
        raise StreamEnds(NOT_SOUND, f"A text message is one of {', '.join(KINDS)}; sound is binary.")
    try:
        return CONTROL.validate_python(stated)
    except ValidationError as error:
        fault = error.errors()[0]
        field = ".".join(str(part) for part in fault["loc"][1:])
        raise ending_of(Malformed(f"{fault['msg']}.", field=field or str(kind))) from error


def _ending(task: "asyncio.Task[None]") -> StreamEnds | None:
    """Return how a task that is over ended the stream; None where it just ended or still runs."""
    if not task.done() or task.cancelled():
        return None
    error = task.exception()
    if error is None or isinstance(error, StreamEnds):
        return error
    return ending_of(error) if isinstance(error, Refusal) else _defect(error)


def _defect(error: BaseException) -> StreamEnds:
    number = str(uuid.uuid4())
    log.error("defect", number=number, path="stream", exc_info=error)
    return StreamEnds(DEFECT, f"The service has a defect here. Number {number} in its log.")
