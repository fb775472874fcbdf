"""Numbers as they are spoken: whole, decimal, with a half or a quarter, digit by digit.

The forms are those of ICAO Annex 10, volume II, 5.2.1.4 (digit by digit, whole hundreds and thousands)
and of everyday speech. Anything else is no number: a wrong guess is worse than a refusal.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from speech.language import DEFAULT, table

_MOST_DECIMALS: Final = 3


@dataclass(frozen=True, slots=True)
class NumberWords:
    """The number words of one language, from its table `numbers`."""

    digits: dict[str, int]
    spelled_digits: dict[str, int]
    teens: dict[str, int]
    tens: dict[str, int]
    hundred: str
    thousand: str
    joined_by: str
    points: tuple[str, ...]
    fractions: dict[tuple[str, ...], float]


@lru_cache(maxsize=8)
def number_words(language: str = DEFAULT) -> NumberWords:
    """The number words of a language."""
    t = table("numbers", language)
    ones = {word: int(value) for value, words in t["ones"].items() for word in words}
    zero = dict.fromkeys(t["zero"], 0)
    return NumberWords(
        digits=zero | ones,
        spelled_digits=dict.fromkeys(t["spelled_zero"], 0) | ones,
        teens={word: int(value) for value, word in t["teens"].items()},
        tens={word: int(value) for value, word in t["tens"].items()},
        hundred=t["hundred"],
        thousand=t["thousand"],
        joined_by=t["and"],
        points=tuple(t["point"]),
        fractions={tuple(w.split()): float(v) for v, words in t["fractions"].items() for w in words},
    )


def _below_hundred(words: Sequence[str], n: NumberWords) -> int | None:
    """One to two words for 0 to 99."""
    if len(words) == 1:
        word = words[0]
        return n.digits.get(word, n.teens.get(word, n.tens.get(word)))
    if len(words) == 2 and words[0] in n.tens and n.digits.get(words[1]):
        return n.tens[words[0]] + n.digits[words[1]]
    return None


def _digit_by_digit(words: Sequence[str], n: NumberWords) -> int | None:
    if len(words) < 2 or any(word not in n.spelled_digits for word in words):
        return None
    return int("".join(str(n.spelled_digits[word]) for word in words))


def _scaled(words: Sequence[str], n: NumberWords, scale: str, size: int) -> int | None:
    """Digits, the word for hundred or thousand, and perhaps a remainder below that size."""
    at = list(words).index(scale)
    head = _digit_by_digit(words[:at], n) if at > 1 else _below_hundred(words[:at], n)
    if scale == n.thousand and head is None:
        head = _below_hundred(words[:at], n)
    rest = list(words[at + 1 :])
    if rest and rest[0] == n.joined_by:
        rest = rest[1:]
        if not rest:
            return None
    remainder = whole_number(rest, n) if rest else 0
    if not head or remainder is None or remainder >= size or (rest and not remainder):
        return None
    if scale == n.hundred and head > 9:
        return None
    return head * size + remainder


def whole_number(words: Sequence[str], n: NumberWords) -> int | None:
    """A whole number, or None when these words are none."""
    if n.thousand in words:
        return _scaled(words, n, n.thousand, 1000)
    if n.hundred in words:
        return _scaled(words, n, n.hundred, 100)
    plain = _below_hundred(words, n)
    return plain if plain is not None else _digit_by_digit(words, n)


def _with_fraction(words: Sequence[str], n: NumberWords) -> float | None:
    for tail, size in n.fractions.items():
        if tuple(words[-len(tail) :]) == tail:
            whole = whole_number(words[: -len(tail)], n)
            return None if whole is None else whole + size
    return None


def _decimal(words: Sequence[str], n: NumberWords, at: int) -> float | None:
    whole, after = whole_number(words[:at], n), words[at + 1 :]
    if whole is None or not 1 <= len(after) <= _MOST_DECIMALS:
        return None
    if any(word not in n.spelled_digits for word in after):
        return None
    return float(f"{whole}." + "".join(str(n.spelled_digits[word]) for word in after))


def number(words: Sequence[str], language: str = DEFAULT) -> int | float | None:
    """The value of these words; whole values are int; None when they are no number in any listed form."""
    n = number_words(language)
    points = [i for i, word in enumerate(words) if word in n.points]
    if len(points) > 1:
        return None
    if points:
        value: float | None = _decimal(words, n, points[0])
    else:
        value = _with_fraction(words, n) if words else None
        if value is None:
            value = whole_number(words, n)
    if value is None:
        return None
    return int(value) if float(value).is_integer() else value


def spoken(value: float, language: str = DEFAULT, decimals: int = 3) -> str:
    """Words for a value up to 9 999.999, the everyday way; the reverse of `number`."""
    n = number_words(language)
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    whole, _, after = text.partition(".")
    first = _spoken_whole(int(whole), n)
    if not after:
        return first
    digit = _first_words(n.digits)
    return " ".join([first, n.points[0], *(digit[int(d)] for d in after)])


def digit_by_digit(value: int, language: str = DEFAULT) -> str:
    """Words for a whole value, each digit by itself."""
    digit = _first_words(number_words(language).digits)
    return " ".join(digit[int(d)] for d in str(value))


def _first_words(named: dict[str, int]) -> dict[int, str]:
    return {value: word for word, value in reversed(named.items())}


def _spoken_whole(value: int, n: NumberWords) -> str:
    digit, teen, ten = _first_words(n.digits), _first_words(n.teens), _first_words(n.tens)
    if value >= 1000:
        rest = value % 1000
        return " ".join(
            [_spoken_whole(value // 1000, n), n.thousand] + ([_spoken_whole(rest, n)] if rest else [])
        )
    if value >= 100:
        rest = value % 100
        return " ".join([digit[value // 100], n.hundred] + ([_spoken_whole(rest, n)] if rest else []))
    if value < 10:
        return digit[value]
    if value < 20:
        return teen[value]
    return ten[value // 10 * 10] + (f" {digit[value % 10]}" if value % 10 else "")
