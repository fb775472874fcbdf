"""Drives a stream from outside, over the WebSocket of a test client."""

import io
import time
from pathlib import Path
from typing import Any, Self

import av
import numpy as np
from starlette.websockets import WebSocketDisconnect

from speech.audio import load_clip
from tests.builders import SAMPLES

RATE = 16_000
CLIPS = Path(__file__).parents[2] / "clips"
JOB_CLIPS = SAMPLES / "clips" / "rw-204"


def spoken(name: str) -> bytes:
    """Samples of a clip of the tests or of the sample job."""
    own = CLIPS / f"{name}.ogg"
    path = own if own.exists() else JOB_CLIPS / f"{name}.ogg"
    return load_clip(path.read_bytes()).samples.tobytes()


def quiet(seconds: float) -> bytes:
    return (np.random.default_rng(5).normal(size=int(RATE * seconds)) * 8).astype("<i2").tobytes()


def sound(*parts: str | float) -> bytes:
    return b"".join(spoken(one) if isinstance(one, str) else quiet(one) for one in parts)


def opus_stream(encoding: str, pcm: bytes) -> bytes:
    """The samples as a stream of Opus, as a browser's recorder makes it."""
    made = io.BytesIO()
    with av.open(made, mode="w", format=encoding) as container:
        stream = container.add_stream("libopus", rate=16_000, layout="mono")
        samples = np.frombuffer(pcm, "<i2")
        for at in range(0, len(samples), 320):
            part = np.zeros((1, 320), np.int16)
            part[0, : len(samples[at : at + 320])] = samples[at : at + 320]
            frame = av.AudioFrame.from_ndarray(part, format="s16", layout="mono")
            frame.rate, frame.pts = 16_000, at
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return made.getvalue()


class Stream:
    """A device's stream: what it sends, and every message that came back until the close."""

    def __init__(self, caller, step: str = "closed_end", **opening: Any) -> None:
        self._caller = caller
        self._socket = caller.http.websocket_connect(f"/v1/jobs/{caller.job}/stream")
        self._opening = {"type": "open", "step": step, **opening}
        self.messages: list[dict[str, Any]] = []
        self.code: int | None = None
        self.reason = ""

    def __enter__(self) -> Self:
        self._socket.__enter__()
        if self._opening["step"]:
            self.send(self._opening)
        return self

    def __exit__(self, *failed: object) -> None:
        self._socket.__exit__(*failed)

    def send(self, message: dict[str, Any]) -> None:
        self._socket.send_json(message)

    def text(self, text: str) -> None:
        self._socket.send_text(text)

    def play(self, pcm: bytes, chunk: int = 6_400) -> None:
        for at in range(0, len(pcm), chunk):
            self._socket.send_bytes(pcm[at : at + chunk])

    def vanish(self) -> None:
        self._socket.send({"type": "websocket.disconnect", "code": 1006})

    def next(self) -> dict[str, Any] | None:
        """The next message; None at the close."""
        try:
            message = self._socket.receive_json()
        except WebSocketDisconnect as closed:
            self.code, self.reason = closed.code, closed.reason or ""
            return None
        self.messages.append(message)
        return message

    def until(self, kind: str) -> dict[str, Any]:
        """The next message of this kind."""
        while (message := self.next()) is not None:
            if message["type"] == kind:
                return message
        raise AssertionError(f"closed with {self.code} {self.reason!r} before any {kind}: {self.kinds()}")

    def close(self) -> list[dict[str, Any]]:
        """End the stream, and return all its messages."""
        self.send({"type": "end"})
        return self.to_the_end()

    def to_the_end(self) -> list[dict[str, Any]]:
        while self.next() is not None:
            pass
        return self.messages

    def kinds(self) -> list[str]:
        return [one["type"] for one in self.messages]

    def of(self, kind: str) -> list[dict[str, Any]]:
        return [one for one in self.messages if one["type"] == kind]


def entries(crew) -> list[dict[str, Any]]:
    return crew.engineer.ok(crew.engineer.get(f"/v1/jobs/{crew.job}/entries"))


def waited_for(crew, kind: str, count: int, seconds: float = 30) -> list[dict[str, Any]]:
    """The entries of this kind, once there are so many."""
    ends = time.monotonic() + seconds
    while time.monotonic() < ends:
        found = [one for one in entries(crew) if one["kind"] == kind]
        if len(found) >= count:
            return found
        time.sleep(0.05)
    raise AssertionError(f"no {count} entries of kind {kind}")
