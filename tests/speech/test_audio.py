import io

import av
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from speech.audio import MOST_BYTES, RATE, container_of, load_clip
from speech.refusals import ClipRefused


def tone(seconds=1.0, rate=16_000, hertz=440.0, amplitude=8_000):
    clock = np.arange(int(seconds * rate)) / rate
    return (amplitude * np.sin(2 * np.pi * hertz * clock)).astype(np.int16)


def encoded(samples, container, codec, rate=16_000, layout="mono", sample_format=None):
    """A clip in a container, written by FFmpeg."""
    out = io.BytesIO()
    with av.open(out, "w", format=container) as file:
        stream = file.add_stream(codec, rate=rate, layout=layout)
        if sample_format:
            stream.format = sample_format
        channels = 1 if layout == "mono" else 2
        packed = np.repeat(samples[None, :], channels, axis=0).T.reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(packed), format="s16", layout=layout)
        frame.sample_rate = rate
        resampler = av.AudioResampler(
            format=stream.format, layout=layout, rate=rate, frame_size=stream.codec_context.frame_size or 1024
        )
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            file.mux(stream.encode(part))
        file.mux(stream.encode(None))
    return out.getvalue()


def pitch_of(samples):
    spectrum = np.abs(np.fft.rfft(samples.astype(float) * np.hanning(len(samples))))
    return np.argmax(spectrum) * RATE / len(samples)


@pytest.mark.parametrize(
    ("container", "codec", "rate", "layout"),
    [
        ("wav", "pcm_s16le", 16_000, "mono"),
        ("wav", "pcm_u8", 16_000, "mono"),
        ("wav", "pcm_s24le", 48_000, "mono"),
        ("wav", "pcm_s32le", 16_000, "mono"),
        ("wav", "pcm_f32le", 44_100, "stereo"),
        ("wav", "pcm_s16le", 8_000, "mono"),
        ("flac", "flac", 16_000, "mono"),
        ("flac", "flac", 48_000, "stereo"),
        ("ogg", "libopus", 48_000, "mono"),
        ("webm", "libopus", 48_000, "mono"),
        ("mp4", "aac", 44_100, "mono"),
    ],
)
def test_every_listed_container_becomes_16_khz_mono_with_its_tone(container, codec, rate, layout):
    clip = load_clip(encoded(tone(rate=rate), container, codec, rate, layout))
    assert clip.samples.dtype == np.int16
    assert clip.samples.ndim == 1
    assert clip.seconds == pytest.approx(1.0, abs=0.1)
    assert pitch_of(clip.samples) == pytest.approx(440, abs=3)
    assert np.abs(clip.samples[2000:-2000]).max() == pytest.approx(8_000, rel=0.15)


@pytest.mark.parametrize(
    ("arguments", "note"),
    [
        (("wav", "pcm_s16le", 16_000, "stereo"), "2 channels mixed to one"),
        (
            ("wav", "pcm_s16le", 8_000, "mono"),
            "resampled from 8000 Hz, sounds above half of that are missing",
        ),
        (("wav", "pcm_s24le", 16_000, "mono"), "converted from pcm_s24le to 16 bit"),
        (("wav", "pcm_f32le", 16_000, "mono"), "converted from pcm_f32le to 16 bit"),
    ],
)
def test_what_was_changed_on_the_way_is_noted(arguments, note):
    container, codec, rate, layout = arguments
    assert load_clip(encoded(tone(rate=rate), container, codec, rate, layout)).notes == (note,)


def test_a_plain_clip_has_no_note():
    assert load_clip(encoded(tone(), "wav", "pcm_s16le")).notes == ()


def picture(kind):
    out = io.BytesIO()
    Image.new("RGB", (8, 8)).save(out, kind)
    return out.getvalue()


@pytest.mark.parametrize(
    ("raw", "reason"),
    [
        (b"", "empty"),
        (b"not a clip at all", "not a sound clip"),
        (b"%PDF-1.7 something", "not a sound clip"),
        (bytes.fromhex("49443304") + bytes(200), "not a sound clip"),  # MPEG audio, behind its tag
        (picture("PNG"), "not a sound clip"),
        (picture("JPEG"), "not a sound clip"),
        (b"RIFF" + (36).to_bytes(4, "little") + b"WAVEfmt ", "damaged"),
        (b"fLaC" + bytes(100), "damaged"),
        (b"OggS" + bytes(100), "damaged"),
        (b"\x1a\x45\xdf\xa3" + bytes(100), "damaged"),
        (b"\x00\x00\x00\x18ftypM4A " + bytes(100), "damaged"),
    ],
)
def test_what_is_no_clip_is_refused_by_what_it_is(raw, reason):
    with pytest.raises(ClipRefused, match=reason):
        load_clip(raw)


def test_an_oversized_clip_is_refused_before_it_is_decoded():
    with pytest.raises(ClipRefused, match="at most"):
        load_clip(b"RIFF" + bytes(MOST_BYTES))


def test_an_over_long_clip_is_refused_though_it_is_small():
    with pytest.raises(ClipRefused, match="over-long"):
        load_clip(encoded(np.zeros(16_000 * 61, np.int16), "flac", "flac"))


def test_a_clip_shorter_than_a_sound_is_refused():
    with pytest.raises(ClipRefused, match=r"lasts 0\.0"):
        load_clip(encoded(tone(0.05), "wav", "pcm_s16le"))


def test_a_clip_with_an_impossible_rate_is_refused():
    with pytest.raises(ClipRefused, match="no microphone"):
        load_clip(encoded(tone(), "wav", "pcm_s16le", rate=1_000))


def test_a_file_with_a_picture_but_no_sound_is_refused():
    out = io.BytesIO()
    with av.open(out, "w", format="matroska") as file:
        stream = file.add_stream("mjpeg", rate=5)
        stream.width = stream.height = 16
        stream.pix_fmt = "yuvj420p"
        file.mux(stream.encode(av.VideoFrame.from_ndarray(np.zeros((16, 16, 3), np.uint8), format="rgb24")))
        file.mux(stream.encode(None))
    with pytest.raises(ClipRefused, match="no sound"):
        load_clip(out.getvalue())


@pytest.mark.parametrize(
    ("container", "codec"),
    [("wav", "pcm_s16le"), ("flac", "flac"), ("ogg", "libopus"), ("webm", "libopus"), ("mp4", "aac")],
)
@given(share=st.floats(0.0, 0.999))
@settings(max_examples=25, deadline=None)
def test_a_clip_cut_off_anywhere_is_decoded_as_far_as_it_goes_or_refused(container, codec, share):
    rate = 16_000 if container in ("wav", "flac") else 48_000
    raw = encoded(tone(0.5, rate), container, codec, rate)
    try:
        clip = load_clip(raw[: int(len(raw) * share)])
    except ClipRefused:
        return
    assert clip.seconds < 0.6


def test_containers_are_told_by_their_first_bytes_and_not_by_a_name():
    assert container_of(encoded(tone(), "flac", "flac")) == "flac"
    assert container_of(b"RIFF....AVI ") is None
