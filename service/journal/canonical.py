"""Exact canonical bytes of JSON values (RFC 8785, JSON Canonicalization Scheme).

The bytes are made once, when something is written, and are stored as they are. Nothing that checks a record
makes them again.
"""

from collections.abc import Mapping
from typing import Any

import rfc8785

from service.domain.refusals import Malformed


class NotCanonical(Malformed):
    """A value has no canonical JSON form: a NaN, an infinity, half a character, or too large an integer."""

    code = "not-canonical"
    title = "This value cannot be recorded"


def canonical(value: Any) -> bytes:  # noqa: ANN401 - JSON is any of six kinds of value
    """Return the RFC 8785 bytes of a JSON value.

    Mappings may be of any kind; lists and tuples become arrays. Raises `NotCanonical` for NaN, infinities,
    lone surrogates, integers beyond 2**53 - 1, keys that are no text, values that are not JSON, and
    bottomless nesting.
    """
    try:
        return rfc8785.dumps(_plain(value))
    except rfc8785.CanonicalizationError as error:
        raise NotCanonical(f"This value has no canonical JSON form: {error}.") from error
    except UnicodeEncodeError as error:  # the library translates this for values, but not for keys
        raise NotCanonical("A key holds half of a character (a lone surrogate).") from error
    except RecursionError as error:
        raise NotCanonical("This value is nested too deeply to be recorded.") from error


def _plain(value: Any) -> Any:  # noqa: ANN401 - JSON is any of six kinds of value
    """Turn every mapping into a dict, which is the only mapping that the library knows."""
    if isinstance(value, Mapping):
        return {key: _plain(member) for key, member in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(member) for member in value]
    return value
