"""Letters and digits by the spelling alphabet of the ICAO (Annex 10, volume II, 5.2.1.3 and 5.2.1.4.3).

Also turns a contact label into the words that are said for it: "12" twelve, "3B" three bravo,
"R1 upper left" rotor one upper left.
"""

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

from speech.language import DEFAULT, table
from speech.spoken_values import number_words, spoken

_ROTOR: Final = re.compile(r"R(\d+)(?: (.+))?")
_SIGNS: Final = re.compile(r"(\d+)|([A-Za-z])|([ ./-]+)|(.)")


@lru_cache(maxsize=8)
def letters(language: str = DEFAULT) -> dict[str, str]:
    """Spelling word -> capital letter."""
    return {word: str(letter) for letter, words in table("spelling", language).items() for word in words}


@lru_cache(maxsize=8)
def signs(language: str = DEFAULT) -> dict[str, str]:
    """Spelling word -> letter or digit."""
    digits = {word: str(value) for word, value in number_words(language).spelled_digits.items()}
    return letters(language) | digits


def spelled(words: Sequence[str], language: str = DEFAULT) -> str | None:
    """The letters and digits of these words, or None when one of them is no spelling word."""
    known = signs(language)
    if not words or any(word not in known for word in words):
        return None
    return "".join(known[word] for word in words)


def spell(text: str, language: str = DEFAULT) -> str:
    """The words for a tag, sign by sign; marks between the signs are not spoken."""
    word_for = {sign: word for word, sign in reversed(signs(language).items())}
    return " ".join(word_for[sign] for sign in text.upper() if sign in word_for)


def label_words(label: str, language: str = DEFAULT) -> str | None:
    """The words said for a contact label; None for a label with signs that cannot be spoken."""
    rotor = _ROTOR.fullmatch(label)
    if rotor:
        head = f"{table('list_words', language)['rotor']} {spoken(int(rotor[1]), language)}"
        return f"{head} {rotor[2].lower()}" if rotor[2] else head
    word_for = {sign: word for word, sign in reversed(letters(language).items())}
    words = []
    for digits, letter, gap, other in _SIGNS.findall(label):
        if other:
            return None
        if digits:
            words.append(
                spoken(int(digits), language) if len(digits) < 4 and digits[0] != "0" else spell(digits)
            )
        elif letter:
            words.append(word_for[letter.upper()])
        elif not gap:
            return None
    return " ".join(words) or None
