"""Photos are decoded within limits, upright, and what was done to them is said."""

import io
import struct
import zlib

import cv2
import numpy as np
import pytest
from PIL import Image

from vision import PhotoRefusal
from vision.photo import MAX_PIXELS, decode, kind_of, upright

RED, GREEN, BLUE, WHITE = (255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 255, 255)
NAMES = {RED: "R", GREEN: "G", BLUE: "B", WHITE: "W"}
TABLE = "EXIF 2.32 / TIFF 6.0 tag 274: which stored row and column is the visual top and left, orientations 1 to 8"


def quartered(width: int = 240, height: int = 200) -> Image.Image:
    """Red and green above, blue and white below."""
    picture = Image.new("RGB", (width, height))
    for colour, box in (
        (RED, (0, 0)),
        (GREEN, (width // 2, 0)),
        (BLUE, (0, height // 2)),
        (WHITE, (width // 2, height // 2)),
    ):
        picture.paste(Image.new("RGB", (width // 2, height // 2), colour), box)
    return picture


def encoded(picture: Image.Image, kind: str = "JPEG", orientation: int | None = None, **options) -> bytes:
    out = io.BytesIO()
    if orientation is not None:
        exif = Image.Exif()
        exif[0x0112] = orientation
        options["exif"] = exif
    picture.save(out, kind, **options)
    return out.getvalue()


def corners(pixels: np.ndarray) -> str:
    height, width = pixels.shape[:2]
    found = ""
    for row, column in ((0.25, 0.25), (0.25, 0.75), (0.75, 0.25), (0.75, 0.75)):
        blue, green, red = (int(v) for v in pixels[int(row * height), int(column * width)])
        nearest = min(NAMES, key=lambda c: abs(c[0] - red) + abs(c[1] - green) + abs(c[2] - blue))
        found += NAMES[nearest]
    return found


@pytest.mark.outside(source=TABLE)
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize(
    ("orientation", "shown", "turned"),
    [
        (1, "RGBW", False),
        (2, "GRWB", False),
        (3, "WBGR", False),
        (4, "BWRG", False),
        (5, "RBGW", True),
        (6, "BRWG", True),
        (7, "WGBR", True),
        (8, "GWRB", True),
    ],
)
def test_each_exif_orientation_is_obeyed_once(kind, orientation, shown, turned):
    photo = decode(encoded(quartered(), kind, orientation))
    assert corners(photo.pixels) == shown
    assert photo.shown_size == ((200, 240) if turned else (240, 200))
    assert photo.orientation == orientation
    assert any("turned upright" in note for note in photo.notes) == (orientation != 1)


@pytest.mark.parametrize("impossible", [0, 9, 255])
def test_an_impossible_orientation_leaves_the_photo_as_it_is(impossible):
    assert corners(decode(encoded(quartered(), "JPEG", impossible)).pixels) == "RGBW"


def test_turning_twice_by_its_opposite_gives_the_stored_pixels():
    pixels = np.arange(24, dtype=np.uint8).reshape(2, 4, 3)
    for one, back in ((2, 2), (3, 3), (4, 4), (5, 5), (6, 8), (7, 7), (8, 6)):
        assert np.array_equal(upright(upright(pixels, one), back), pixels)


def test_a_grey_and_a_16_bit_photo_are_accepted_with_a_note():
    assert "grey" in " ".join(decode(encoded(quartered().convert("L"))).notes)
    deep = cv2.imencode(".png", (np.arange(200 * 200).reshape(200, 200) % 65536).astype(np.uint16))[
        1
    ].tobytes()
    notes = " ".join(decode(deep).notes)
    assert "grey" in notes
    assert "16 bits" in notes


def png_that_claims(width: int, height: int) -> bytes:
    """A well-formed PNG header of any size, with next to nothing behind it."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 100))
        + chunk(b"IEND", b"")
    )


def animated(kind: str) -> bytes:
    frames = [quartered(), quartered().rotate(90, expand=False)]
    return encoded(frames[0], kind, save_all=True, append_images=frames[1:], duration=100)


BAD = {
    "empty": (b"", "empty"),
    "a text named .jpg": (b"These are my notes of Tuesday.\n" * 20, "not a photo"),
    "a torn JPEG": (encoded(quartered(900, 700), quality=95)[:9000], "torn"),
    "a JPEG of nothing but its mark": (b"\xff\xd8\xff" + b"\0" * 64 + b"\xff\xd9", "torn or mislabelled"),
    "a pixel bomb": (png_that_claims(30_000, 30_000), "too large"),
    "a panorama": (png_that_claims(20_000, 5_000), "megapixels"),
    "a PNG without its pixels": (png_that_claims(800, 600), "torn"),
    "an animated GIF": (animated("GIF"), "GIF"),
    "an animated PNG": (animated("PNG"), "animated"),
    "an animated WebP": (animated("WEBP"), "animated"),
    "a stamp": (encoded(quartered(80, 60)), "only 80 x 60"),
    "a document": (b"%PDF-1.7\n", "PDF"),
}


@pytest.mark.parametrize("fault", BAD)
def test_a_bad_photo_is_refused_with_its_fault(fault):
    photo, said = BAD[fault]
    with pytest.raises(PhotoRefusal, match=said):
        decode(photo)


def test_the_pixel_limit_holds_before_any_pixel_is_decoded():
    assert MAX_PIXELS < 20_000 * 5_000
    with pytest.raises(PhotoRefusal):
        decode(png_that_claims(8001, 8001))


def test_the_name_of_a_type_comes_from_the_first_bytes():
    assert kind_of(encoded(quartered(), "PNG")) == "PNG"
    assert kind_of(b"RIFF\0\0\0\0WEBPVP8 ") == "WebP"
    assert kind_of(b"GIF89a") == "GIF"
    assert kind_of(b"") is None


def test_a_large_jpeg_is_reduced_while_decoding_and_says_so():
    photo = decode(encoded(quartered(4000, 3000), quality=80))
    assert photo.scale == pytest.approx(2.0)
    assert photo.shown_size == (4000, 3000)
    assert any("reduction" in note for note in photo.notes)
