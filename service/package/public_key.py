"""Read an Ed25519 public key out of its PEM form (RFC 8410, RFC 7468). Bare Python."""

import base64
import binascii

_FIRST = "-----BEGIN PUBLIC KEY-----"
_LAST = "-----END PUBLIC KEY-----"
_ED25519_PREFIX = bytes.fromhex("302a300506032b6570032100")
"""DER of a SubjectPublicKeyInfo up to the 32 bytes of an Ed25519 key (RFC 8410, section 4)."""


class BadPublicKeyError(ValueError):
    """The bytes are no Ed25519 public key in PEM."""


def read_public_key(pem: bytes) -> bytes:
    """Return the raw 32-byte key; raises `BadPublicKeyError`."""
    try:
        lines = pem.decode("ascii").strip().splitlines()
        der = base64.b64decode("".join(lines[1:-1]), validate=True)
    except (UnicodeDecodeError, binascii.Error) as error:
        raise BadPublicKeyError("The bytes are not a public key in PEM.") from error
    framed = len(lines) >= 3 and lines[0] == _FIRST and lines[-1] == _LAST
    if not framed or not der.startswith(_ED25519_PREFIX) or len(der) != len(_ED25519_PREFIX) + 32:
        raise BadPublicKeyError("The bytes are not an Ed25519 public key in PEM.")
    return der[len(_ED25519_PREFIX) :]
