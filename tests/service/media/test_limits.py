import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from service.domain.refusals import BadMedia
from service.media.limits import MediaLimits, shape_of
from tests import builders

limits = MediaLimits().inspect


def png_that_states(width: int, height: int) -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )


def animated(form: str) -> bytes:
    frames = [Image.new("RGB", (20, 20), shade) for shade in ("red", "blue")]
    kept = io.BytesIO()
    frames[0].save(kept, form, save_all=True, append_images=frames[1:])
    return kept.getvalue()


@pytest.mark.parametrize(
    ("form", "media_type"), [(".jpg", "image/jpeg"), (".png", "image/png"), (".webp", "image/webp")]
)
def test_the_pixel_size_is_read_from_the_header(form, media_type):
    found = limits(builders.photo(640, 480, form), media_type, "photo")
    assert (found.type, found.width, found.height) == (media_type, 640, 480)


@pytest.mark.parametrize("options", [{"lossless": True}, {"exif": b"Exif\0\0"}, {"quality": 50}])
def test_each_kind_of_webp_header_states_its_size(options):
    kept = io.BytesIO()
    Image.new("RGB", (321, 123)).save(kept, "WEBP", **options)
    found = limits(kept.getvalue(), "image/webp", "photo")
    assert (found.width, found.height) == (321, 123)


def test_an_empty_file_is_refused():
    with pytest.raises(BadMedia, match="empty"):
        limits(b"", "image/jpeg", "photo")


def test_a_pixel_bomb_is_refused_before_anything_decodes_it():
    with pytest.raises(BadMedia, match="30000 x 30000 pixels"):
        limits(png_that_states(30000, 30000), "image/png", "photo")


def test_a_photo_with_a_wrong_label_is_refused_with_both_names():
    with pytest.raises(BadMedia, match="labelled image/png, but its first bytes state image/jpeg"):
        limits(builders.photo(form=".jpg"), "image/png", "photo")


@pytest.mark.parametrize(("form", "media_type"), [("PNG", "image/png"), ("WEBP", "image/webp")])
def test_an_animated_picture_is_refused(form, media_type):
    with pytest.raises(BadMedia, match="animated"):
        limits(animated(form), media_type, "photo")


def test_a_torn_header_is_refused():
    with pytest.raises(BadMedia, match="torn"):
        limits(builders.photo(form=".jpg")[:30], "image/jpeg", "photo")


@pytest.mark.parametrize("content", [b"%PDF-1.7 whatever", b"GIF89a....", b"MZ\x90\x00", bytes(100)])
def test_what_is_no_photo_is_refused_by_its_first_bytes(content):
    with pytest.raises(BadMedia, match="first bytes state none"):
        limits(content, "image/jpeg", "photo")


def test_a_clip_sent_as_photo_is_refused():
    with pytest.raises(BadMedia, match="first bytes state audio/wav"):
        limits(builders.clip(), "image/jpeg", "photo")


def test_a_file_over_the_limit_is_refused_with_both_figures():
    with pytest.raises(BadMedia, match="6444 bytes; at most 100"):
        MediaLimits(clip_max_bytes=100).inspect(builders.clip(0.2), "audio/wav", "clip")


@pytest.mark.parametrize(
    ("head", "media_type"),
    [
        (b"fLaC\0\0\0\x22", "audio/flac"),
        (b"OggS\0\x02", "audio/ogg"),
        (b"\x1a\x45\xdf\xa3\x9f", "audio/webm"),
        (b"\0\0\0\x1cftypM4A ", "audio/mp4"),
    ],
)
def test_each_kind_of_clip_is_known_by_its_first_bytes(head, media_type):
    assert limits(head + bytes(60), media_type, "clip").type == media_type


def test_names_that_phones_use_for_a_type_are_taken():
    assert shape_of("audio/webm;codecs=opus") == "clip"
    assert limits(builders.clip(), "audio/x-wav", "clip").type == "audio/wav"


def test_an_unknown_content_type_is_refused_with_the_list_of_those_taken():
    with pytest.raises(BadMedia, match="image/webp"):
        shape_of("application/pdf")


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"a: \x00"])
def test_a_definition_that_is_no_text_is_refused(content):
    with pytest.raises(BadMedia):
        limits(content, "application/yaml", "definition")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("kept", [0.3, 0.6, 0.95])
def test_a_picture_that_ends_before_its_picture_does_is_refused(kind, kept):
    whole = io.BytesIO()
    noise = np.random.default_rng(3).integers(0, 256, (48, 64, 3), dtype=np.uint8)
    Image.fromarray(noise).save(whole, kind)
    content, declared = whole.getvalue(), f"image/{kind.lower()}"
    MediaLimits().inspect(content, declared, "photo")
    with pytest.raises(BadMedia, match=r"ends before its picture does|torn"):
        MediaLimits().inspect(content[: int(len(content) * kept)], declared, "photo")
