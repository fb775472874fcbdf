"""Tells what a file is by its first bytes, and a photo's pixel size by its header; decodes nothing.

Sources of the signatures: JPEG ITU-T T.81 (SOI marker), PNG W3C (3rd edition, 5.2), WebP RFC 9649, WAV and
RIFF (Multimedia Programming Interface 1.0), FLAC RFC 9639, Ogg RFC 3533, Matroska/WebM RFC 8794 (EBML
header), ISO base media file format ISO/IEC 14496-12 (`ftyp`).
"""

from collections.abc import Iterator

JPEG_FRAMES = {0xC0, 0xC1, 0xC2, 0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF}
"""Markers of ITU-T T.81 table B.1 that open a frame and state its size."""


SIGNATURES = (
    (0, b"\xff\xd8\xff", "image/jpeg"),
    (0, b"\x89PNG\r\n\x1a\n", "image/png"),
    (8, b"WEBP", "image/webp"),
    (8, b"WAVE", "audio/wav"),
    (0, b"fLaC", "audio/flac"),
    (0, b"OggS", "audio/ogg"),
    (0, b"\x1a\x45\xdf\xa3", "audio/webm"),
    (4, b"ftyp", "audio/mp4"),
)
"""Place, bytes and media type of each signature; those at 8 stand in a RIFF file."""


def type_of(content: bytes) -> str | None:
    """Return the media type that the first bytes state, or None where none of ours fits."""
    for place, signature, media_type in SIGNATURES:
        if content[place : place + len(signature)] == signature and (place != 8 or content[:4] == b"RIFF"):
            return media_type
    return None


def is_animated(content: bytes, media_type: str) -> bool:
    """Tell whether a PNG carries an `acTL` chunk or a WebP the animation flag of its `VP8X` header."""
    if media_type == "image/png":
        return any(kind == b"acTL" for kind, _ in _png_chunks(content))
    if media_type == "image/webp":
        return content[12:16] == b"VP8X" and len(content) > 20 and bool(content[20] & 0x02)
    return False


def pixel_size(content: bytes, media_type: str) -> tuple[int, int] | None:
    """Return (width, height) as the header states them, or None where the header is torn."""
    if media_type == "image/png":
        return _png_size(content)
    if media_type == "image/jpeg":
        return _jpeg_size(content)
    return _webp_size(content)


def _png_size(content: bytes) -> tuple[int, int] | None:
    if content[12:16] != b"IHDR" or len(content) < 24:
        return None
    return int.from_bytes(content[16:20], "big"), int.from_bytes(content[20:24], "big")


def _png_chunks(content: bytes) -> Iterator[tuple[bytes, int]]:
    at = 8
    while at + 8 <= len(content):
        length, kind = int.from_bytes(content[at : at + 4], "big"), content[at + 4 : at + 8]
        yield kind, length
        if kind == b"IDAT":
            return
        at += 12 + length


def _jpeg_size(content: bytes) -> tuple[int, int] | None:
    at = 2
    while at + 9 <= len(content):
        if content[at] != 0xFF:
            return None
        marker = content[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        if marker in JPEG_FRAMES:
            height = int.from_bytes(content[at + 5 : at + 7], "big")
            return int.from_bytes(content[at + 7 : at + 9], "big"), height
        at += 2 + int.from_bytes(content[at + 2 : at + 4], "big")
    return None


def _webp_size(content: bytes) -> tuple[int, int] | None:
    kind = content[12:16]
    if kind == b"VP8X" and len(content) >= 30:
        return 1 + int.from_bytes(content[24:27], "little"), 1 + int.from_bytes(content[27:30], "little")
    if kind == b"VP8 " and len(content) >= 30 and content[23:26] == b"\x9d\x01\x2a":
        width = int.from_bytes(content[26:28], "little") & 0x3FFF
        return width, int.from_bytes(content[28:30], "little") & 0x3FFF
    if kind == b"VP8L" and len(content) >= 25 and content[20] == 0x2F:
        bits = int.from_bytes(content[21:25], "little")
        return 1 + (bits & 0x3FFF), 1 + ((bits >> 14) & 0x3FFF)
    return None


def is_cut_off(content: bytes, found: str) -> bool:
    """Tell whether a picture lacks its end: the end marker of JPEG and PNG, the stated length of WebP.

    Bytes after the end do not matter; some cameras put their own there.
    """
    if found == "image/jpeg":  # ITU-T T.81, B.1.1.3: a scan (SOS, FFDA) is followed by the end (EOI, FFD9)
        return content.rfind(b"\xff\xd9") <= content.rfind(b"\xff\xda")
    if found == "image/png":
        return b"IEND" not in content[8:]
    if found == "image/webp":
        return len(content) < 8 + int.from_bytes(content[4:8], "little")
    return False
