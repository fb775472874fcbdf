"""JSON that two readers may understand differently is refused."""

import pytest

from service.journal.strict_json import AmbiguousJsonError, read_json


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b'{"seq":1,"seq":2}', "same key twice"),
        (b'{"a":{"b":1,"b":1}}', "same key twice"),
        (b"NaN", "not a JSON number"),
        (b"[-Infinity]", "not a JSON number"),
        (b"1e999", "beyond the range"),
        (b"9007199254740992", "beyond 2\\*\\*53"),
        (b"9" * 5000, "beyond 2\\*\\*53"),
        (b'"\\ud800"', "lone surrogate"),
        (b'{"\\udc00":1}', "lone surrogate"),
        (b"\xef\xbb\xbf{}", "not JSON"),
        (b"\xff", "not JSON"),
        (b"{} {}", "not JSON"),
        (b"{'a':1}", "not JSON"),
        (b"", "not JSON"),
        (b"[" * 200_000, "too deeply"),
    ],
)
def test_ambiguous_bytes_are_refused_with_the_reason(content, why):
    with pytest.raises(AmbiguousJsonError, match=why):
        read_json(content)


def test_a_surrogate_pair_is_one_character():
    assert read_json(b'"\\ud83d\\ude00"') == "\U0001f600"


@pytest.mark.outside(source="RFC 7493 section 2.2: integers within 2**53 - 1 are exact everywhere")
def test_the_largest_exact_integer_is_read():
    assert read_json(b"[9007199254740991,-9007199254740991]") == [2**53 - 1, -(2**53) + 1]
