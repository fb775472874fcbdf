"""Sound as it arrives in a stream, and what is kept of it as evidence, exactly as received.

`pcm`: 16 kHz mono, 16 bit little endian; kept as WAV of the very samples.
`ogg`, `webm`: one Ogg or WebM stream of Opus from its first byte, in pieces of any size; kept as Ogg of the very
packets (RFC 6716, RFC 7845), with a tenth of a second before them, since a decoder needs some to settle.
"""

import io
import struct
import threading
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final, Protocol

import av
import av.error

from speech.audio import RATE
from speech.refusals import ClipRefused
from speech.stream_events import Uttered

ENCODINGS: Final = ("pcm", "ogg", "webm")
_FORMATS: Final = {"ogg": "ogg", "webm": "matroska"}
_SETTLING_S: Final = 0.1
_KEPT_S: Final = 90.0  # of packets; no utterance is longer
_MOST_HEAD: Final = 200_000  # bytes in which a container must have said what it holds
_PATIENCE_S: Final = 20.0


class StreamSound(Protocol):
    """Turns what arrives into samples, and an utterance back into what arrived."""

    def decode(self, received: bytes) -> bytes:
        """Samples of what has arrived so far and has not been returned yet; raises ClipRefused."""

    def end(self) -> bytes:
        """Nothing more arrives: the samples that are left."""

    def evidence(self, uttered: Uttered) -> tuple[bytes, str]:
        """The bytes to keep of an utterance, and their media type."""


def sound_of_stream(encoding: str, rate: int = RATE) -> StreamSound:
    """The sound of a stream in this encoding; raises ClipRefused for one, or for a rate, that is not heard here."""
    if encoding not in ENCODINGS:
        raise ClipRefused(f"the encoding {encoding} is not heard here; {', '.join(ENCODINGS)} are")
    if encoding == "pcm" and rate != RATE:
        raise ClipRefused(f"a stream of samples has {RATE} samples a second; {rate} were declared")
    return PcmSound() if encoding == "pcm" else OpusSound(encoding)


class PcmSound:
    """Samples as they are."""

    def decode(self, received: bytes) -> bytes:
        """What arrived."""
        return received

    def end(self) -> bytes:
        """Nothing is held back."""
        return b""

    def evidence(self, uttered: Uttered) -> tuple[bytes, str]:
        """WAV with the very samples of the utterance."""
        return wav_of(uttered.sound), "audio/wav"


def wav_of(pcm: bytes) -> bytes:
    """A WAV file of 16 kHz mono 16 bit samples (RIFF, Multimedia Programming Interface 1.0)."""
    head = struct.pack(
        "<4sI4s4sIHHIIHH", b"RIFF", 36 + len(pcm), b"WAVE", b"fmt ", 16, 1, 1, RATE, 2 * RATE, 2, 16
    )
    return head + struct.pack("<4sI", b"data", len(pcm)) + pcm


@dataclass(frozen=True)
class _Packet:
    start_s: float
    content: bytes
    samples: int  # at 48 kHz


class _Pipe:
    """What the reading thread reads from: waits for bytes until the end, and says when it has none left."""

    def __init__(self) -> None:
        self._state = threading.Condition()
        self._bytes = bytearray()
        self._ended = False
        self.hungry = self.done = False
        self.fault: str | None = None

    def read(self, size: int) -> bytes:
        """Up to `size` bytes; none at the end."""
        with self._state:
            while not self._bytes and not self._ended:
                self.hungry = True
                self._state.notify_all()
                self._state.wait()
            self.hungry = False
            taken = bytes(self._bytes[:size])
            del self._bytes[:size]
            return taken

    def put(self, received: bytes, *, last: bool = False) -> None:
        """Hand bytes over and wait until all of them were read and used."""
        with self._state:
            self._bytes += received
            self._ended = self._ended or last
            self.hungry = False
            self._state.notify_all()
            used = self._state.wait_for(lambda: self.done or (self.hungry and not last), _PATIENCE_S)
        if not used:
            raise ClipRefused("the stream cannot be decoded in time")

    def finish(self, fault: str | None) -> None:
        """The reading thread ends, and why."""
        with self._state:
            self.done, self.fault = True, fault
            self._state.notify_all()


class OpusSound:
    """An Ogg or WebM stream of Opus, decoded as it arrives by a thread of its own."""

    def __init__(self, encoding: str) -> None:
        self._encoding = encoding
        self._pipe = _Pipe()
        self._made: list[bytes] = []
        self._packets: deque[_Packet] = deque()
        self._head, self._received, self._decoded = b"", 0, 0
        self._thread = threading.Thread(target=self._run, name="stream-sound", daemon=True)
        self._thread.start()

    def decode(self, received: bytes) -> bytes:
        """Samples of what has arrived whole."""
        if self._pipe.done:
            raise ClipRefused(self._pipe.fault or "the stream had ended")
        self._received += len(received)
        self._pipe.put(received)
        if self._pipe.fault:
            raise ClipRefused(self._pipe.fault)
        if not self._head and self._received > _MOST_HEAD:
            raise ClipRefused(
                f"no {self._encoding} stream of Opus: nothing could be decoded of its beginning"
            )
        return self._taken()

    def end(self) -> bytes:
        """The samples that were still held back; what does not decode any more is left out.

        Raises ClipRefused where nothing of the stream could be decoded.
        """
        if not self._pipe.done:
            self._pipe.put(b"", last=True)
        self._thread.join(_PATIENCE_S)
        if self._received and not self._packets:
            raise ClipRefused(self._pipe.fault or f"no {self._encoding} stream of Opus was in what arrived")
        return self._taken()

    def evidence(self, uttered: Uttered) -> tuple[bytes, str]:
        """Ogg with the packets in which the utterance lies."""
        first = uttered.start_s - _SETTLING_S
        chosen = [
            p for p in self._packets if p.start_s + p.samples / 48_000 > first and p.start_s < uttered.end_s
        ]
        return _ogg_of(self._head, chosen), "audio/ogg"

    def _taken(self) -> bytes:
        made, self._made = b"".join(self._made), []
        return made

    def _run(self) -> None:
        fault = None
        try:
            with av.open(self._pipe, mode="r", format=_FORMATS[self._encoding]) as container:
                for pcm in self._followed(container):
                    self._made.append(pcm)
        except ClipRefused as refusal:
            fault = str(refusal)
        except (av.error.FFmpegError, ValueError, MemoryError, OverflowError):
            fault = f"the {self._encoding} stream is damaged, or is none"
        self._pipe.finish(fault)

    def _followed(self, container: Any) -> Iterator[bytes]:  # noqa: ANN401 - the library has no types
        if not container.streams.audio:
            raise ClipRefused(f"the {self._encoding} stream holds no sound")
        stream = container.streams.audio[0]
        codec = stream.codec_context
        if codec.name not in ("opus", "libopus"):
            raise ClipRefused(f"the {self._encoding} stream is coded as {codec.name}; Opus is heard here")
        self._head = bytes(codec.extradata or b"")
        resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE)
        for packet in container.demux(stream):
            before = self._decoded
            for frame in packet.decode():
                self._decoded += frame.samples
                frame.pts = None  # a stream that starts late or jumps is not padded
                yield from (made.to_ndarray().tobytes() for made in resampler.resample(frame))
            if packet.size:
                self._keep(_Packet(before / 48_000, bytes(packet), self._decoded - before))
        yield from (made.to_ndarray().tobytes() for made in resampler.resample(None))

    def _keep(self, packet: _Packet) -> None:
        self._packets.append(packet)
        while self._packets[0].start_s < packet.start_s - _KEPT_S:
            self._packets.popleft()


def _ogg_of(head: bytes, packets: list[_Packet]) -> bytes:
    kept = io.BytesIO()
    with av.open(kept, mode="w", format="ogg") as container:
        stream = container.add_stream("libopus", rate=48_000, layout="mono")
        stream.codec_context.extradata = head
        at = 0
        for one in packets:
            packet = av.Packet(one.content)
            packet.stream, packet.time_base = stream, Fraction(1, 48_000)
            packet.pts = packet.dts = at
            packet.duration = one.samples
            at += one.samples
            container.mux(packet)
    return kept.getvalue()
