"""Read JSON so that no two readers can understand it differently. Bare Python.

Python's own reader keeps the last of two equal keys, takes NaN, and takes integers that other readers
round. Each is a way to show one thing to one reader and another thing to the next, so each is refused (RFC
7493, I-JSON).
"""

import json
from typing import Any, NoReturn

_LARGEST_EXACT = 2**53 - 1


class AmbiguousJsonError(ValueError):
    """The bytes are not JSON, or are JSON that two readers may understand differently."""


def read_json(content: bytes) -> Any:  # noqa: ANN401 - JSON is any of six kinds of value
    """Return the value that `content` states.

    Raises `AmbiguousJsonError` for anything but UTF-8 JSON without a byte-order mark, with unique keys,
    finite numbers, integers within 2**53 - 1 and no lone surrogates.
    """
    try:
        value = json.loads(
            content.decode("utf-8"),
            object_pairs_hook=_unique,
            parse_constant=_refuse_constant,
            parse_int=_exact,
            parse_float=_finite,
        )
    except AmbiguousJsonError:
        raise
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise AmbiguousJsonError(f"These bytes are not JSON in UTF-8: {error}.") from error
    except RecursionError as error:
        raise AmbiguousJsonError("This JSON is nested too deeply.") from error
    _refuse_lone_surrogates(value)
    return value


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        raise AmbiguousJsonError("An object has the same key twice.")
    return members


def _refuse_constant(text: str) -> NoReturn:
    raise AmbiguousJsonError(f"{text} is not a JSON number.")


def _exact(text: str) -> int:
    if len(text) > 17 or abs(int(text)) > _LARGEST_EXACT:
        raise AmbiguousJsonError(f"The integer {text[:24]} is beyond 2**53 - 1; readers differ on it.")
    return int(text)


def _finite(text: str) -> float:
    number = float(text)
    if number in (float("inf"), float("-inf")):
        raise AmbiguousJsonError(f"The number {text[:24]} is beyond the range of a double.")
    return number


def _refuse_lone_surrogates(value: object) -> None:
    pending = [value]
    while pending:
        part = pending.pop()
        if isinstance(part, str):
            if not part.isascii() and any("\ud800" <= character <= "\udfff" for character in part):
                raise AmbiguousJsonError("A text holds half of a character (a lone surrogate).")
        elif isinstance(part, list):
            pending += part
        elif isinstance(part, dict):
            pending += part
            pending += part.values()
