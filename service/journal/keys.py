"""The service's signing key as bytes: made, written out, read back (Ed25519, RFC 8032).

Where the bytes are kept, and who may read them, is the business of the caller; nothing here touches a file.
"""

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from service.domain.refusals import Malformed
from service.journal.digests import sha256_hex


class BadSigningKey(Malformed):
    """The bytes are no Ed25519 key in PEM, or a private one that is encrypted."""

    code = "bad-signing-key"
    title = "This signing key cannot be used"


def fingerprint(public_key: bytes) -> str:
    """Return the fingerprint of a raw 32-byte Ed25519 public key: its SHA-256 in hexadecimal."""
    return sha256_hex(public_key)


def public_key_from_pem(pem: bytes) -> bytes:
    """Return the raw 32 bytes of an Ed25519 public key in PEM; raises `BadSigningKey` for anything else."""
    try:
        key = serialization.load_pem_public_key(pem)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise BadSigningKey("These bytes are no public key in PEM.") from error
    if not isinstance(key, Ed25519PublicKey):
        raise BadSigningKey("This public key is not an Ed25519 key.")
    return key.public_bytes_raw()


class SigningKey:
    """An Ed25519 private key that signs heads and packages. MUST NOT be logged or sent anywhere."""

    def __init__(self, private_key: Ed25519PrivateKey) -> None:
        self._private_key = private_key

    @classmethod
    def create(cls) -> "SigningKey":
        """Make a key from the operating system's randomness."""
        return cls(Ed25519PrivateKey.generate())

    @classmethod
    def from_pem(cls, pem: bytes) -> "SigningKey":
        """Read a key as `to_pem` wrote it; raises `BadSigningKey` for anything else."""
        try:
            key = serialization.load_pem_private_key(pem, password=None)
        except (ValueError, TypeError, UnsupportedAlgorithm) as error:
            raise BadSigningKey("These bytes are no unencrypted private key in PEM.") from error
        if not isinstance(key, Ed25519PrivateKey):
            raise BadSigningKey("This private key is not an Ed25519 key.")
        return cls(key)

    @classmethod
    def from_seed(cls, seed: bytes) -> "SigningKey":
        """Make the key that 32 secret bytes stand for (RFC 8032, 5.1.5)."""
        if len(seed) != 32:
            raise BadSigningKey(f"An Ed25519 seed has 32 bytes; this one has {len(seed)}.")
        return cls(Ed25519PrivateKey.from_private_bytes(seed))

    def to_pem(self) -> bytes:
        """Return the key as PKCS #8 in PEM, unencrypted; its keeper MUST keep others from reading it."""
        return self._private_key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )

    @property
    def public_key(self) -> bytes:
        """The raw public key, 32 bytes."""
        return self._private_key.public_key().public_bytes_raw()

    @property
    def public_pem(self) -> bytes:
        """The public key as SubjectPublicKeyInfo in PEM, as other programs read it."""
        return self._private_key.public_key().public_bytes(
            serialization.Encoding.PEM,
            serialization.PublicFormat.SubjectPublicKeyInfo,
        )

    @property
    def fingerprint(self) -> str:
        """Hex SHA-256 of the raw public key: what a stranger compares."""
        return fingerprint(self.public_key)

    def sign(self, message: bytes) -> bytes:
        """Return the 64-byte signature of `message`; the same message has always the same signature."""
        return self._private_key.sign(message)
