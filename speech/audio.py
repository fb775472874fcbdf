"""Any clip -> 16 kHz mono int16, within limits, or a refusal that says what the clip is instead.

Read: WAV (8, 16, 24, 32 bit, float), FLAC, Ogg (Opus, Vorbis, FLAC), WebM (Opus, Vorbis), M4A (AAC).
The container is told from its first bytes, not from its name.
"""

import io
import logging
from dataclasses import dataclass
from typing import Any, Final

import av
import av.error
import numpy as np

from speech.refusals import ClipRefused

RATE: Final = 16_000
MOST_BYTES: Final = 25_000_000
MOST_SECONDS: Final = 60.0
LEAST_SECONDS: Final = 0.1
_MOST_RATE: Final = 384_000
_CONTAINERS: Final = {"wav": "wav", "flac": "flac", "ogg": "ogg", "webm": "matroska", "m4a": "mov"}

logging.getLogger("libav").setLevel(logging.CRITICAL)  # damaged clips are told by our own sentence

Samples = np.ndarray[Any, np.dtype[np.int16]]


@dataclass(frozen=True)
class Clip:
    """A decoded clip: 16 kHz mono, its length in seconds, and notes on what was changed on the way."""

    samples: Samples
    seconds: float
    notes: tuple[str, ...] = ()


def container_of(raw: bytes) -> str | None:
    """The kind of container by its first bytes; None when it is none that is heard here."""
    if raw[:4] in (b"RIFF", b"RF64") and raw[8:12] == b"WAVE":
        return "wav"
    if raw[:4] == b"fLaC":
        return "flac"
    if raw[:4] == b"OggS":
        return "ogg"
    if raw[:4] == b"\x1a\x45\xdf\xa3":
        return "webm"
    return "m4a" if raw[4:8] == b"ftyp" else None


def load_clip(raw: bytes) -> Clip:
    """Decode one clip. Raises ClipRefused: empty, too large, no sound, damaged, too long, too short."""
    if not raw:
        raise ClipRefused("the clip is empty")
    if len(raw) > MOST_BYTES:
        raise ClipRefused(f"the clip has {len(raw)} bytes; at most {MOST_BYTES} are taken")
    kind = container_of(raw)
    if kind is None:
        raise ClipRefused("not a sound clip: neither WAV, FLAC, Ogg, WebM nor M4A")
    try:
        samples, notes = _decode(raw, kind)
    except (av.error.FFmpegError, ValueError, MemoryError, OverflowError) as fault:
        raise ClipRefused(f"the {kind} clip is damaged or cut off and cannot be decoded") from fault
    seconds = len(samples) / RATE
    if seconds < LEAST_SECONDS:
        raise ClipRefused(f"the clip lasts {seconds:.2f} s; speech needs at least {LEAST_SECONDS} s")
    return Clip(samples, seconds, tuple(notes))


def _decode(raw: bytes, kind: str) -> tuple[Samples, list[str]]:
    with av.open(io.BytesIO(raw), mode="r", format=_CONTAINERS[kind], metadata_errors="ignore") as container:
        if not container.streams.audio:
            raise ClipRefused(f"the {kind} file holds no sound")
        stream = container.streams.audio[0]
        notes = _notes(stream.codec_context, video=bool(container.streams.video))
        resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE)
        parts: list[Samples] = []
        taken = 0
        for frame in container.decode(stream):
            frame.pts = None  # a stream that starts late or jumps must not be padded
            for made in resampler.resample(frame):
                parts.append(made.to_ndarray()[0])
                taken += parts[-1].size
            if taken > MOST_SECONDS * RATE:
                raise ClipRefused(f"the clip is over-long: more than {MOST_SECONDS:.0f} s")
        parts.extend(made.to_ndarray()[0] for made in resampler.resample(None))
    samples = np.concatenate(parts) if parts else np.zeros(0, np.int16)
    return samples.astype(np.int16, copy=False), notes


def _notes(codec: Any, *, video: bool) -> list[str]:  # noqa: ANN401 - the library has no types
    """What was changed to get 16 kHz mono, in words; raises ClipRefused for a rate that no microphone has."""
    if codec is None:
        raise ClipRefused("the clip is cut off before it says how its sound is coded")
    if not 4_000 <= codec.sample_rate <= _MOST_RATE:
        raise ClipRefused(
            f"the clip declares {codec.sample_rate} samples a second, which no microphone gives"
        )
    notes = []
    if codec.channels > 1:
        notes.append(f"{codec.channels} channels mixed to one")
    if codec.sample_rate != RATE and codec.name != "opus":
        low = ", sounds above half of that are missing" if codec.sample_rate < RATE else ""
        notes.append(f"resampled from {codec.sample_rate} Hz{low}")
    if codec.name in ("pcm_s24le", "pcm_s32le", "pcm_f32le", "pcm_f64le", "pcm_u8", "pcm_s24be"):
        notes.append(f"converted from {codec.name} to 16 bit")
    if video:
        notes.append("the picture in the file was not used")
    return notes
