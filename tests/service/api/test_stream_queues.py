"""What waits in a stream is bounded, and a device that reads nothing is let go with everything kept."""

import asyncio
import json
from types import SimpleNamespace

from service.api import stream_session
from service.api.stream_queues import MOST_WAITING, Inbox, Outbox
from service.api.stream_seats import Seats
from service.api.stream_session import StreamSession
from service.use_cases.sign_in import recognise
from tests.service.api.streams import entries, sound


def test_sound_that_waits_makes_its_sender_wait_and_is_not_lost_meanwhile():
    async def play() -> list[str]:
        inbox: Inbox[str] = Inbox(10)
        told = []

        async def put() -> None:
            for name in ("a", "b", "c"):
                await inbox.put(name, 6)
                told.append(f"put {name}")

        putting = asyncio.create_task(put())
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        told.append("waits")
        told += [await inbox.get(), await inbox.get()]
        await putting
        told.append(await inbox.get())
        return told

    assert asyncio.run(play()) == ["put a", "waits", "a", "b", "put b", "put c", "c"]


def test_what_was_being_put_when_its_sender_was_stopped_is_there():
    async def play() -> list[str]:
        inbox: Inbox[str] = Inbox(1)
        putting = asyncio.create_task(inbox.put("all of it", 9))
        await asyncio.sleep(0)
        putting.cancel()
        inbox.put_last("end")
        return [await inbox.get(), await inbox.get()]

    assert asyncio.run(play()) == ["all of it", "end"]


def test_partial_words_give_way_to_newer_ones_and_to_all_else():
    async def play() -> list[str]:
        outbox = Outbox()
        for text in ("lock", "lock is"):
            outbox.put({"type": "partial", "text": text})
        newest = (await outbox.get())["text"]
        outbox.put({"type": "partial", "text": "lock is off"})
        outbox.put({"type": "claim"})
        return [newest, (await outbox.get())["type"]]

    assert asyncio.run(play()) == ["lock is", "claim"]


def test_messages_that_nobody_reads_are_counted():
    outbox = Outbox()
    for _ in range(MOST_WAITING + 1):
        assert not outbox.full
        outbox.put({"type": "claim"})
    assert outbox.full


class DeafSocket:
    """A device that sends and never reads."""

    def __init__(self, *messages) -> None:
        self.waiting = list(messages)
        self.closed: tuple[int, str] | None = None
        self.url = SimpleNamespace(path="/v1/jobs/x/stream")

    async def receive(self) -> dict:
        if self.waiting:
            return self.waiting.pop(0)
        return await asyncio.Event().wait()

    async def send_text(self, text: str) -> None:
        await asyncio.Event().wait()

    async def close(self, code: int, reason: str) -> None:
        self.closed = code, reason


def test_a_device_that_reads_nothing_is_let_go_and_what_it_said_is_kept(at_photo_step, house, monkeypatch):
    monkeypatch.setattr(stream_session, "SENDING_S", 0.3)
    monkeypatch.setattr(stream_session, "WINDING_UP_S", 0.3)
    crew = at_photo_step
    token = crew.technician.http.headers["Authorization"].removeprefix("Bearer ")
    clips = len([one for one in entries(crew) if one["kind"] == "clip_heard"])
    socket = DeafSocket(
        {"type": "websocket.receive", "text": json.dumps({"type": "open", "step": "closed_end"})},
        {"type": "websocket.receive", "bytes": sound(0.3, "9_3b_open", 1.0)},
    )

    async def play() -> None:
        seats = Seats(1)
        asker = recognise(house.ports, token)
        await StreamSession(socket, house.ports, asker, token, crew.job, seats).run()
        assert seats.taken == {}
        seats.close()

    asyncio.run(play())
    assert socket.closed == (1008, "Messages were not read for 0 s.")
    heard = [one for one in entries(crew) if one["kind"] == "clip_heard"]
    assert len(heard) == clips + 1
