"""Turns the bytes of a photo into upright pixels, within stated limits, and says what was done to them.

Everything is decided from the file's own header before a pixel is decoded: a small file can claim a huge
picture. The EXIF orientation is read once and obeyed once, here; no other module looks at it.
"""

import io
import struct
import time
import warnings
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image, UnidentifiedImageError

from vision.refusals import PhotoRefusal

Pixels = npt.NDArray[np.uint8]

# A 12-megapixel phone JPEG has 2 to 6 MB, a 16-bit PNG of that size up to 70 MB.
MAX_BYTES = 80_000_000
# Twice the largest phone sensor in use at full resolution would still decode within 0.6 GB; a panorama of
# 100 megapixels holds the switch in a strip too small to read and is better taken again.
MAX_PIXELS = 64_000_000
# Under this edge a bar is 6 pixels wide at most when the switch fills the frame, and no angle is worth its
# name.
MIN_EDGE = 160
# Measuring works at up to this long edge; larger photos are reduced while decoding, which costs no accuracy
# that the bars could use (a bar is then still 20 pixels wide) and keeps 12 megapixels within a fraction of
# a second.
WORKING_EDGE = 2100

_MAGIC: tuple[tuple[bytes, int, str], ...] = (
    (b"\xff\xd8\xff", 0, "JPEG"),
    (b"\x89PNG\r\n\x1a\n", 0, "PNG"),
    (b"WEBP", 8, "WebP"),
    (b"GIF8", 0, "GIF"),
    (b"BM", 0, "BMP"),
    (b"II*\x00", 0, "TIFF"),
    (b"MM\x00*", 0, "TIFF"),
    (b"ftypheic", 4, "HEIC"),
    (b"ftypheix", 4, "HEIC"),
    (b"ftypmif1", 4, "HEIC"),
    (b"ftypavif", 4, "AVIF"),
    (b"%PDF", 0, "PDF"),
)
_TAKEN = ("JPEG", "PNG", "WebP")


@dataclass(frozen=True)
class Photo:
    """One decoded photo, upright.

    Attributes
    ----------
    pixels : (h, w, 3) uint8, blue-green-red
        The picture as shown, at working size.
    shown_size : (w, h)
        Size of the picture as shown, before any reduction.
    scale : float
        Pixels of the shown picture per pixel of `pixels` (1, 2 or 4).
    orientation : int
        EXIF orientation that was obeyed, 1 to 8; 1 where the file names none or an impossible one.
    kind : str
        File type by its first bytes.
    notes : tuple of str
        What a reader of the result should know (turned, grey, 16-bit, reduced).
    decode_ms : float

    """

    pixels: Pixels
    shown_size: tuple[int, int]
    scale: float
    orientation: int
    kind: str
    notes: tuple[str, ...]
    decode_ms: float


def kind_of(photo: bytes) -> str | None:
    """Name the file type by its first bytes, never by its name; None where they are no picture's."""
    for magic, offset, name in _MAGIC:
        if photo[offset : offset + len(magic)] == magic:
            return name
    return None


def upright(pixels: Pixels, orientation: int) -> Pixels:
    """Turn and mirror pixels as EXIF orientation 1 to 8 demands (TIFF 6.0, tag 274; EXIF 2.32).

    Examples
    --------
    >>> upright(np.array([[[1], [2]]], np.uint8), 3)[0, :, 0].tolist()
    [2, 1]

    """
    turned: Any = pixels
    if orientation in (5, 6, 7, 8):
        turned = turned.transpose(1, 0, 2)
    if orientation in (2, 3, 6, 7):
        turned = turned[:, ::-1]
    if orientation in (3, 4, 7, 8):
        turned = turned[::-1]
    return np.ascontiguousarray(turned)


def decode(photo: bytes) -> Photo:
    """Decode one photo within the limits above.

    Raises
    ------
    PhotoRefusal
        Empty, too large, of a type not taken, animated, torn, or too small; the message says what to do.

    """
    began = time.perf_counter()
    kind = _checked_kind(photo)
    width, height, orientation, notes = _header(photo, kind)
    reduction = _reduction(max(width, height), kind)
    pixels = _pixels(photo, reduction)
    turned = upright(pixels, orientation)
    if orientation != 1:
        notes = (*notes, f"turned upright as its EXIF orientation {orientation} says")
    scale = max(width, height) / max(pixels.shape[:2])
    if scale > 1.01:
        notes = (*notes, f"measured at a reduction of {scale:.1f}")
    shown = (height, width) if orientation >= 5 else (width, height)
    return Photo(turned, shown, scale, orientation, kind, notes, (time.perf_counter() - began) * 1e3)


def _checked_kind(photo: bytes) -> str:
    if not photo:
        raise PhotoRefusal("The file is empty.")
    if len(photo) > MAX_BYTES:
        raise PhotoRefusal(f"The file has {len(photo) / 1e6:.0f} MB, more than {MAX_BYTES / 1e6:.0f} MB.")
    kind = kind_of(photo)
    if kind is None:
        raise PhotoRefusal("The file is not a photo: its first bytes are those of no known picture type.")
    if kind not in _TAKEN:
        raise PhotoRefusal(f"The file is {kind}; send the photo as {', '.join(_TAKEN[:-1])} or {_TAKEN[-1]}.")
    # libjpeg paints a torn file's rest grey, which would read as part of the picture: the end mark must be
    # there.
    if kind == "JPEG" and b"\xff\xd9" not in photo[-65536:]:
        raise PhotoRefusal("The photo is torn: its end is missing. Send it again.")
    return kind


def _header(photo: bytes, kind: str) -> tuple[int, int, int, tuple[str, ...]]:
    """Read size, orientation and notes from the header alone; raises PhotoRefusal."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter(
                "ignore", Image.DecompressionBombWarning
            )  # our own limit follows, and is lower
            with Image.open(io.BytesIO(photo), formats=[kind.upper()]) as opened:
                width, height = opened.size
                frames, mode = getattr(opened, "n_frames", 1), opened.mode
                turn = _orientation(opened)
    except Image.DecompressionBombError as bomb:
        raise PhotoRefusal(f"The picture is too large: {bomb}") from None
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, struct.error, OverflowError):
        raise PhotoRefusal(f"The photo is torn or mislabelled: its {kind} header cannot be read.") from None
    if width * height > MAX_PIXELS:
        most = MAX_PIXELS / 1e6
        raise PhotoRefusal(f"The picture has {width * height / 1e6:.0f} megapixels, more than {most:.0f}.")
    if min(width, height) < MIN_EDGE:
        raise PhotoRefusal(f"The picture is only {width} x {height} pixels; at least {MIN_EDGE} each way.")
    # An MPO file (a JPEG with a second view) counts its views as frames; only true animations are refused.
    if kind != "JPEG" and frames > 1:
        raise PhotoRefusal(f"The picture is animated ({frames} frames); send one still photo.")
    notes: tuple[str, ...] = ()
    if mode in ("L", "LA", "1") or mode.startswith("I"):
        notes = ("a grey picture: colour cannot help",)
    if mode.startswith("I"):
        notes = (*notes, "16 bits reduced to 8")
    return width, height, turn, notes


def _orientation(opened: Image.Image) -> int:
    try:
        value = opened.getexif().get(0x0112, 1)
    except (
        OSError,
        SyntaxError,
        ValueError,
        struct.error,
    ):  # a torn EXIF block is no reason to refuse the pixels
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _reduction(long_edge: int, kind: str) -> int:
    for factor in (1, 2, 4):
        if long_edge / factor <= WORKING_EDGE or kind != "JPEG":
            return factor
    return 4


def _pixels(photo: bytes, reduction: int) -> Pixels:
    flags = {1: cv2.IMREAD_COLOR, 2: cv2.IMREAD_REDUCED_COLOR_2, 4: cv2.IMREAD_REDUCED_COLOR_4}[reduction]
    try:
        decoded = cv2.imdecode(np.frombuffer(photo, np.uint8), flags | cv2.IMREAD_IGNORE_ORIENTATION)
    except cv2.error:
        decoded = None
    if decoded is None:
        raise PhotoRefusal("The photo is torn: its pixels cannot be decoded. Send it again.")
    longest = max(decoded.shape[:2])
    if longest > WORKING_EDGE:
        share = WORKING_EDGE / longest
        decoded = cv2.resize(decoded, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    return np.asarray(decoded, np.uint8)
