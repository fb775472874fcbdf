"""SHA-256 of bytes as they are stored, and the hash that stands before the first entry. Bare Python."""

import hashlib
import re

BEFORE_THE_FIRST = "0" * 64
"""`prev` of the first entry of a journal: no entry has this hash."""

_HEX = re.compile(r"[0-9a-f]{64}")


def sha256_hex(content: bytes) -> str:
    """Return the SHA-256 (FIPS 180-4) of `content` as 64 lower-case hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def is_sha256(text: object) -> bool:
    """Say whether `text` is a SHA-256 as this journal writes it."""
    return isinstance(text, str) and _HEX.fullmatch(text) is not None
