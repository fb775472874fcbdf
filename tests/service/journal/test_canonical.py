"""Canonical JSON bytes against the published test data of RFC 8785, and what has no canonical form."""

import json
import math
import struct
from pathlib import Path
from types import MappingProxyType

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from service.journal.canonical import NotCanonical, canonical
from service.journal.digests import sha256_hex
from service.journal.strict_json import read_json

VECTORS = Path(__file__).parent / "vectors" / "canonical_json"
PUBLISHED = {
    "arrays": "099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42",
    "french": "d99d0ebdcb0033cb858cfa830ae46bc0fb3309413b271f1da828c89901a27ed5",
    "structures": "605f65004ec2db7692522a0852c22f1c989e036d547e88963d1a3143cf3195d5",
    "unicode": "0d99aad92a125196ff887876643fd3206786a84ddce2cee52ba4ad256d2381d3",
    "values": "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb",
    "weird": "6af595a9aa80110b964b4de3f82a05fa6ae7423005019bacfa2620dddc4e94d1",
}


@pytest.mark.outside(source="RFC 8785 test data, cyberphone/json-canonicalization 19d51d7f")
@pytest.mark.parametrize("name", sorted(PUBLISHED))
def test_a_published_document_gets_its_published_bytes(name):
    source = (VECTORS / "input" / f"{name}.json").read_bytes()
    expected = (VECTORS / "output" / f"{name}.json").read_bytes()
    assert sha256_hex(expected) == PUBLISHED[name]
    assert canonical(json.loads(source)) == expected


@pytest.mark.outside(source="RFC 8785 appendix B: IEEE 754 bits and their ECMAScript text")
@pytest.mark.parametrize(
    ("bits", "text"),
    [
        ("0000000000000000", b"0"),
        ("8000000000000000", b"0"),
        ("0000000000000001", b"5e-324"),
        ("8000000000000001", b"-5e-324"),
        ("7fefffffffffffff", b"1.7976931348623157e+308"),
        ("ffefffffffffffff", b"-1.7976931348623157e+308"),
        ("4340000000000000", b"9007199254740992"),
        ("c340000000000000", b"-9007199254740992"),
        ("4430000000000000", b"295147905179352830000"),
        ("44b52d02c7e14af5", b"9.999999999999997e+22"),
        ("44b52d02c7e14af6", b"1e+23"),
        ("44b52d02c7e14af7", b"1.0000000000000001e+23"),
        ("444b1ae4d6e2ef4e", b"999999999999999700000"),
        ("444b1ae4d6e2ef4f", b"999999999999999900000"),
        ("444b1ae4d6e2ef50", b"1e+21"),
        ("3eb0c6f7a0b5ed8c", b"9.999999999999997e-7"),
        ("3eb0c6f7a0b5ed8d", b"0.000001"),
        ("41b3de4355555553", b"333333333.3333332"),
        ("41b3de4355555554", b"333333333.33333325"),
        ("41b3de4355555555", b"333333333.3333333"),
        ("41b3de4355555556", b"333333333.3333334"),
        ("41b3de4355555557", b"333333333.33333343"),
        ("becbf647612f3696", b"-0.0000033333333333333333"),
        ("43143ff3c1cb0959", b"1424953923781206.2"),
    ],
)
def test_a_published_double_gets_its_published_text(bits, text):
    assert canonical(struct.unpack(">d", bytes.fromhex(bits))[0]) == text


@pytest.mark.outside(source="RFC 8785 section 3.2.3: keys sorted by UTF-16 code units")
def test_keys_are_sorted_by_utf_16_and_not_by_code_point():
    keys = ["\ufb33", "\U0001f600", "\u20ac", "\u00f6", "\u0080", "1", "\r"]
    published = ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]
    assert list(json.loads(canonical(dict.fromkeys(keys)))) == published
    assert sorted(keys) != published


def test_a_text_is_not_normalised():
    assert canonical("A\u030a") == b'"A\xcc\x8a"'


@pytest.mark.parametrize(
    "value",
    [
        math.nan,
        math.inf,
        -math.inf,
        2**53,
        -(2**53),
        "\ud800",
        {"\udfff": 1},
        {1: "a"},
        {"when": object()},
        b"bytes",
        {"deep": [math.nan]},
    ],
)
def test_a_value_without_a_canonical_form_is_refused(value):
    with pytest.raises(NotCanonical):
        canonical(value)


def test_bottomless_nesting_is_refused():
    value: list = []
    for _ in range(100_000):
        value = [value]
    with pytest.raises(NotCanonical):
        canonical(value)


def test_every_error_of_the_library_is_one_that_is_translated():
    raised = [
        kind for kind in vars(rfc8785).values() if isinstance(kind, type) and issubclass(kind, Exception)
    ]
    assert raised
    assert all(issubclass(kind, rfc8785.CanonicalizationError) for kind in raised)


@given(st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_is_read_back_as_the_number_that_was_written(number):
    assert float(json.loads(canonical(number))) == float(number)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(JSON)
def test_what_was_written_is_read_back_and_written_the_same(value):
    written = canonical(value)
    assert read_json(written) == value
    assert canonical(read_json(written)) == written


def test_any_mapping_and_any_sequence_will_do():
    assert canonical(MappingProxyType({"b": (1, 2), "a": MappingProxyType({})})) == b'{"a":{},"b":[1,2]}'
