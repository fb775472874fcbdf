"""Signed heads: exact bytes, signatures that fit nothing else, and heads that are refused."""

import pytest

from service.journal.canonical import canonical
from service.journal.ed25519 import signature_fits
from service.journal.heads import BadHead, WrongSignature, check_head, head_document, sign_head
from tests.service.journal.journals import JOB, KEY, OTHER_KEY, head_of, sealed

HEAD = head_of(sealed())


def test_a_signed_head_is_read_back():
    signed = sign_head(HEAD, KEY)
    assert check_head(signed.document, signed.signature, signed.public_key) == HEAD


def test_the_same_head_and_key_give_the_same_bytes():
    assert sign_head(HEAD, KEY) == sign_head(HEAD, KEY)


def test_the_signature_also_fits_by_the_check_that_needs_no_library():
    signed = sign_head(HEAD, KEY)
    assert signature_fits(signed.public_key, signed.document, signed.signature)


def test_another_key_another_byte_and_a_cut_signature_do_not_fit():
    signed = sign_head(HEAD, KEY)
    for document, signature, key in [
        (signed.document, signed.signature, OTHER_KEY.public_key),
        (signed.document + b" ", signed.signature, signed.public_key),
        (signed.document, signed.signature[:-1], signed.public_key),
        (signed.document, signed.signature, b"short"),
    ]:
        with pytest.raises(WrongSignature):
            check_head(document, signature, key)


@pytest.mark.parametrize(
    "change",
    [
        {"type": "limitwitness contents"},
        {"v": 2},
        {"seq": -1},
        {"seq": True},
        {"hash": "00"},
        {"job": 4},
        {"more": 1},
    ],
)
def test_signed_bytes_that_state_no_head_are_refused(change):
    document = canonical(
        {"type": "limitwitness head", "v": 1, "job": JOB, "seq": 0, "hash": "0" * 64, "time": ""} | change
    )
    with pytest.raises(BadHead):
        check_head(document, KEY.sign(document), KEY.public_key)


def test_bytes_that_are_no_json_are_no_head():
    with pytest.raises(BadHead):
        check_head(b"head", KEY.sign(b"head"), KEY.public_key)


def test_a_head_states_itself_in_canonical_bytes():
    assert head_document(HEAD).startswith(b'{"hash":"')
