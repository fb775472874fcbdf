"""The package's own signature check against published vectors and against the library that signs."""

import json
from pathlib import Path

import cryptography_vectors
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from service.journal.ed25519 import signature_fits

VECTORS = Path(__file__).parent / "vectors" / "ed25519_signatures.jsonl"
CASES = [json.loads(line) for line in VECTORS.read_text().splitlines()]


@pytest.mark.outside(source="RFC 8032 section 7.1, tests 1 to 3")
@pytest.mark.parametrize(
    ("public_key", "message", "signature"),
    [
        (
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            "",
            (
                "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
                "d25bf5f0595bbe24655141438e7a100b"
            ),
        ),
        (
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            "72",
            (
                "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
                "387b2eaeb4302aeeb00d291612bb0c00"
            ),
        ),
        (
            "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
            "af82",
            (
                "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc659"
                "4a7c15e9716ed28dc027beceea1ec40a"
            ),
        ),
    ],
)
def test_the_signatures_of_the_standard_fit(public_key, message, signature):
    key, text, made = (bytes.fromhex(part) for part in (public_key, message, signature))
    assert signature_fits(key, text, made)
    assert not signature_fits(key, text + b"\0", made)
    assert not signature_fits(key, text, made[:-1] + bytes([made[-1] ^ 1]))


@pytest.mark.outside(source="C2SP wycheproof dac1dd47, ed25519_test.json")
@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['id']} {case['flag']}")
def test_a_published_signature_fits_or_fails_as_published(case):
    parts = (bytes.fromhex(case[name]) for name in ("public_key", "message", "signature"))
    assert signature_fits(*parts) == case["fits"]


@pytest.mark.outside(source="cryptography-vectors, asymmetric/Ed25519/sign.input: 1024 signatures")
def test_a_thousand_published_signatures_fit():
    with cryptography_vectors.open_vector_file("asymmetric/Ed25519/sign.input", "r") as file:
        vectors = [line.split(":")[:4] for line in file if line.strip()]
    assert len(vectors) == 1024
    for secret, public_key, message, signed in vectors:
        key, text, signature = bytes.fromhex(public_key), bytes.fromhex(message), bytes.fromhex(signed)[:64]
        assert secret.endswith(public_key)
        assert signature_fits(key, text, signature)


@given(st.binary(min_size=32, max_size=32), st.binary(max_size=200), st.integers(0, 511))
def test_it_agrees_with_the_library_that_signs(seed, message, bit):
    key = Ed25519PrivateKey.from_private_bytes(seed)
    signature = key.sign(message)
    flipped = bytearray(signature)
    flipped[bit // 8] ^= 1 << bit % 8
    assert signature_fits(key.public_key().public_bytes_raw(), message, signature)
    assert not signature_fits(key.public_key().public_bytes_raw(), message, bytes(flipped))


@given(st.binary(max_size=80), st.binary(max_size=8), st.binary(max_size=80))
def test_chance_bytes_are_no_signature_and_no_error(public_key, message, signature):
    assert not signature_fits(public_key, message, signature)
