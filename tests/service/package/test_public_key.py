"""The signer's public key out of its PEM form, with nothing but Python."""

import cryptography_vectors
import pytest

from service.journal.keys import SigningKey
from service.package.public_key import BadPublicKeyError, read_public_key


@pytest.mark.outside(
    source="cryptography-vectors, Ed25519/ed25519-pub.pem: the key of RFC 8032 section 7.1, test 1"
)
def test_a_published_key_is_read():
    with cryptography_vectors.open_vector_file("asymmetric/Ed25519/ed25519-pub.pem", "rb") as file:
        key = read_public_key(file.read())
    assert key.hex() == "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"


def test_a_key_that_the_library_writes_is_read():
    key = SigningKey.create()
    assert read_public_key(key.public_pem) == key.public_key


@pytest.mark.outside(source="cryptography-vectors: keys of other kinds and private keys")
@pytest.mark.parametrize(
    "name",
    [
        "asymmetric/Ed25519/ed25519-pkcs8.pem",
        "asymmetric/PEM_Serialization/rsa_public_key.pem",
        "asymmetric/X25519/x25519-pub.pem",
    ],
)
def test_a_key_of_another_kind_is_refused(name):
    with cryptography_vectors.open_vector_file(name, "rb") as file, pytest.raises(BadPublicKeyError):
        read_public_key(file.read())


@pytest.mark.parametrize(
    "change", [b"", b"x", b"\xff", b"-----BEGIN PUBLIC KEY-----\n-----END PUBLIC KEY-----\n"]
)
def test_bytes_that_are_no_key_are_refused(change):
    with pytest.raises(BadPublicKeyError):
        read_public_key(change)


def test_a_key_with_bytes_too_many_or_too_few_is_refused():
    lines = SigningKey.create().public_pem.decode().splitlines()
    for body in (lines[1][:-4], lines[1] + "AAAA"):
        with pytest.raises(BadPublicKeyError):
            read_public_key("\n".join([lines[0], body, lines[2]]).encode())
