"""Sound as it arrives: decoded like the whole, and kept exactly as received."""

import io

import av
import numpy as np
import pytest

from speech.audio import load_clip
from speech.refusals import ClipRefused
from speech.stream_events import Uttered
from speech.stream_sound import OpusSound, PcmSound, sound_of_stream, wav_of
from tests.speech.samples import CLIPS


def packets_of(raw: bytes) -> list[bytes]:
    with av.open(io.BytesIO(raw)) as container:
        return [bytes(packet) for packet in container.demux(audio=0) if packet.size]


def as_webm(ogg: bytes) -> bytes:
    """The same packets in a WebM stream, as a browser's recorder makes one."""
    made = io.BytesIO()
    with av.open(io.BytesIO(ogg)) as source, av.open(made, mode="w", format="webm") as target:
        given = source.streams.audio[0]
        stream = target.add_stream_from_template(given)
        for packet in source.demux(given):
            if packet.size:
                packet.stream = stream
                target.mux(packet)
    return made.getvalue()


@pytest.fixture(scope="module")
def ogg():
    return (CLIPS / "lock_is_off_clean.ogg").read_bytes()


@pytest.fixture(params=["ogg", "webm"])
def opus(request, ogg):
    return request.param, ogg if request.param == "ogg" else as_webm(ogg)


def uttered(start: float, end: float, pcm: bytes = b"") -> Uttered:
    return Uttered(None, start, end, (start, end), pcm, 1)


@pytest.mark.parametrize("size", [1, 333, 100_000])
def test_a_stream_of_opus_gives_the_samples_of_the_whole_whatever_the_pieces(opus, size):
    encoding, raw = opus
    sound = sound_of_stream(encoding)
    pieces = [raw[at : at + size] for at in range(0, len(raw), size)] if size > 1 else [raw[:1], raw[1:]]
    pcm = b"".join(sound.decode(piece) for piece in pieces) + sound.end()
    whole = load_clip(raw).samples
    assert np.array_equal(np.frombuffer(pcm, "<i2")[: len(whole)], whole[: len(pcm) // 2])
    assert abs(len(pcm) // 2 - len(whole)) < 400


def test_an_utterance_of_opus_is_kept_as_the_very_packets_that_came(opus):
    encoding, raw = opus
    sound = sound_of_stream(encoding)
    sound.decode(raw)
    sound.end()
    kept, media_type = sound.evidence(uttered(0.3, 0.8))
    assert media_type == "audio/ogg"
    ours, theirs = packets_of(kept), packets_of(raw)
    assert 0 < len(ours) < len(theirs)
    first = theirs.index(ours[0])
    assert theirs[first : first + len(ours)] == ours
    assert load_clip(kept).seconds == pytest.approx(0.6, abs=0.06)


def test_an_utterance_of_samples_is_kept_as_the_very_samples():
    pcm = np.arange(-800, 800, dtype="<i2").tobytes()
    sound = sound_of_stream("pcm")
    assert sound.decode(pcm) == pcm
    assert sound.end() == b""
    kept, media_type = sound.evidence(uttered(0.0, 0.1, pcm))
    assert media_type == "audio/wav"
    assert kept[44:] == pcm
    with av.open(io.BytesIO(kept)) as container:
        assert container.streams.audio[0].rate == 16_000


@pytest.mark.outside(
    source="Multimedia Programming Interface and Data Specifications 1.0: RIFF WAVE, format tag 1"
)
def test_the_head_of_the_kept_wav_states_its_sizes():
    made = wav_of(bytes(3200))
    assert made[:4] == b"RIFF"
    assert int.from_bytes(made[4:8], "little") == len(made) - 8
    assert int.from_bytes(made[20:22], "little") == 1
    assert int.from_bytes(made[24:28], "little") == 16_000
    assert int.from_bytes(made[40:44], "little") == 3200


@pytest.mark.parametrize("encoding", ["ogg", "webm"])
@pytest.mark.parametrize("head", [b"hello world" * 99, b"OggS", b"\x1a\x45\xdf\xa3"])
def test_what_is_no_stream_of_opus_is_refused_and_nothing_hangs(encoding, head):
    raw = head + bytes(300_000)

    def play(sound: OpusSound) -> None:
        for at in range(0, len(raw), 50_000):
            sound.decode(raw[at : at + 50_000])
        sound.end()

    sound = OpusSound(encoding)
    with pytest.raises(ClipRefused):
        play(sound)
    with pytest.raises(ClipRefused):
        sound.end()


def test_a_stream_cut_off_inside_a_packet_gives_what_came_before(ogg):
    raw = as_webm(ogg)
    sound = sound_of_stream("webm")
    pcm = sound.decode(raw[: len(raw) * 2 // 3]) + sound.end()
    assert 0 < len(pcm) // 2 <= len(load_clip(ogg).samples)


def test_other_encodings_and_rates_are_named():
    assert isinstance(sound_of_stream("pcm", 16_000), PcmSound)
    with pytest.raises(ClipRefused, match="mp3"):
        sound_of_stream("mp3")
    with pytest.raises(ClipRefused, match="44100"):
        sound_of_stream("pcm", 44_100)


def test_sound_that_is_not_opus_is_refused():
    made = io.BytesIO()
    with av.open(made, mode="w", format="ogg") as container:
        stream = container.add_stream("flac", rate=16_000, layout="mono")
        stream.codec_context.format = "s16"
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 16_000), np.int16), format="s16", layout="mono")
        frame.rate, frame.pts = 16_000, 0
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            container.mux(packet)
    sound = sound_of_stream("ogg")
    sound.decode(made.getvalue()[:50])
    with pytest.raises(ClipRefused, match="flac"):
        sound.decode(made.getvalue()[50:])
