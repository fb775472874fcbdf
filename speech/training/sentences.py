"""What the synthetic voices say: phrases of the card, sentences close to them, numbers, and plain speech.

Plain speech (random common words) keeps the model from bending everything into a phrase; word pairs that
differ in one sound (thirteen/thirty, on/off, not/nought) are said often, because one of them is a danger.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numpy as np

from speech.language import table
from speech.lexicon import Lexicon
from speech.phrase import Phrase
from speech.phrasebook import all_phrases
from speech.spelling import letters
from speech.spoken_values import number_words

SHARES: Final = {
    "plain": 0.28,
    "phrase": 0.25,
    "near": 0.13,
    "swapped": 0.11,
    "contrast": 0.10,
    "numbers": 0.08,
    "joined": 0.05,
}
_LABELS: Final = [str(n) for n in range(1, 25)] + ["3B", "1A", "2D", "5C", "R1 upper left", "R2 lower right"]
_CONTRASTS: Final = Path(__file__).with_name("contrasts.txt")
_MOST_WORDS: Final = 14


class Sentences:
    """Draws sentences; the same generator state gives the same sentences."""

    def __init__(self, chance: np.random.Generator, common: list[tuple[str, float]]) -> None:
        self._chance = chance
        self._words = [word for word, _ in common]
        weight = np.array([frequency for _, frequency in common]) ** 0.35
        self._steps = np.cumsum(weight / weight.sum())
        self._phrases = all_phrases(_LABELS)
        self._rules = table("competitors")
        self._contrasts = [line.split() for line in _CONTRASTS.read_text().splitlines() if line.strip()]
        self._alike: dict[str, list[str]] = {}
        for family in self._contrasts:
            for word in family:
                self._alike.setdefault(word, []).extend(other for other in family if other != word)
        self._kinds: dict[str, Callable[[], list[str]]] = {
            "plain": self._plain,
            "phrase": self._phrase,
            "near": self._near,
            "swapped": self._swapped,
            "contrast": self._contrast,
            "numbers": self._numbers,
            "joined": lambda: self._phrase() + self._pick([self._phrase, self._plain])(),
        }

    def __call__(self) -> list[str]:
        """The words of one sentence, at most fourteen."""
        kind = list(SHARES)[int(self._chance.choice(len(SHARES), p=list(SHARES.values())))]
        return self._kinds[kind]()[:_MOST_WORDS]

    def _pick(self, choices: Any) -> Any:  # noqa: ANN401 - draws from any sequence
        return choices[int(self._chance.integers(len(choices)))]

    def _plain(self) -> list[str]:
        count = 1 if self._chance.random() < 0.1 else int(self._chance.integers(2, 9))
        at = np.searchsorted(self._steps, self._chance.random(count))
        return [self._words[min(int(i), len(self._words) - 1)] for i in at]

    def _filled(self, phrase: Phrase) -> list[str]:
        text = phrase.text
        for name, slot in phrase.slots:
            text = text.replace("{" + name + "}", slot.sample(self._pick))
        return text.split()

    def _phrase(self) -> list[str]:
        phrase = self._pick(self._phrases)
        words = self._filled(phrase)
        if phrase.corrects and self._chance.random() < 0.1:
            again = self._pick([p for p in self._phrases if p.group == phrase.group])
            words = [*words, *table("list_words")["correction"], *self._filled(again)]
        return words

    def _near(self) -> list[str]:
        """A phrase turned into something that must be refused, by the competitor rules."""
        words = self._filled(self._pick(self._phrases))
        rule = self._pick(["before", "between", "copula", "after", "cut"])
        if rule == "before":
            return [self._pick(self._rules["before"].split()) for _ in range(self._pick([1, 2, 3]))] + words
        if rule == "after":
            return words + [self._pick(self._rules["after"].split()) for _ in range(self._pick([1, 2]))]
        if rule == "copula" and set(words) & set(self._rules["copula"]):
            other = self._pick(self._rules["instead_of_copula"].split())
            return [other if word in self._rules["copula"] else word for word in words]
        if rule == "cut" and len(words) > 2:
            return words[self._pick([1, 2]) :] if self._chance.random() < 0.5 else words[:-1]
        at = int(self._chance.integers(1, len(words) + 1))
        return [*words[:at], self._pick(self._rules["between"].split()), *words[at:]]

    def _swapped(self) -> list[str]:
        """A phrase with one word, now and then two, turned into a word that sounds like it (on/off, two/three)."""
        words = self._filled(self._pick(self._phrases))
        for _ in range(self._pick([1, 1, 1, 2])):
            places = [at for at, word in enumerate(words) if word in self._alike]
            if places:
                at = self._pick(places)
                words = [*words[:at], self._pick(self._alike[words[at]]), *words[at + 1 :]]
        return words

    def _contrast(self) -> list[str]:
        """One to four words out of a family that differs in one sound."""
        family = self._pick(self._contrasts)
        return [self._pick(family) for _ in range(self._pick([1, 2, 2, 3, 4]))]

    def _numbers(self) -> list[str]:
        digits = list(number_words().digits)
        if self._chance.random() < 0.5:
            return [self._pick(list(letters())) for _ in range(self._pick([1, 2, 3]))] + [
                self._pick(digits) for _ in range(self._pick([0, 1, 2, 3]))
            ]
        return [self._pick(digits) for _ in range(self._pick([2, 3, 4, 5]))]


def vocabulary(size: int = 22_000) -> tuple[dict[str, list[list[str]]], list[tuple[str, float]]]:
    """Pronunciations of the language's own and of `size` common words, and the common words' frequencies.

    Common words and their order come from the package `wordfreq` (code Apache-2.0); only the order of words
    is used, no list of them is shipped.
    """
    from wordfreq import top_n_list, word_frequency  # noqa: PLC0415 - needed for training alone

    lexicon, dictionary = Lexicon(), Lexicon()
    said, _ = lexicon.pronounce(_own_words())
    common = []
    for word in top_n_list("en", 2 * size):
        if not word.isascii() or not word.replace("'", "").isalpha() or (len(word) == 1 and word not in "ai"):
            continue
        sounds = dictionary.sounds(word)
        if word in dictionary.guessed or not sounds:
            continue
        said.setdefault(word, sounds)
        common.append((word, float(word_frequency(word, "en"))))
        if len(common) >= size:
            break
    return said, common


def _own_words() -> set[str]:
    rules = table("competitors")
    words = {
        word for key in ("before", "between", "instead_of_copula", "after") for word in rules[key].split()
    }
    words |= {word for family in rules["classes"] for word in family.split()}
    words |= {*rules["copula"], *rules["after_auxiliary"], *table("list_words")["correction"]}
    words |= {word for line in _CONTRASTS.read_text().splitlines() for word in line.split()}
    for phrase in all_phrases(_LABELS):
        words |= {word for word in phrase.words() if not word.startswith("{")}
        words |= {word for _, slot in phrase.slots for _, word, _ in slot.automaton().arcs}
    return words | set(letters()) | set(number_words().spelled_digits)


def write_vocabulary(path: Path) -> None:
    """The vocabulary as one JSON file, so that the machine that trains needs no word packages."""
    said, common = vocabulary()
    path.write_text(json.dumps({"pronunciations": said, "common": common}))


def read_vocabulary(path: Path) -> tuple[dict[str, list[list[str]]], list[tuple[str, float]]]:
    """What `write_vocabulary` wrote."""
    found = json.loads(path.read_text())
    return found["pronunciations"], [(word, frequency) for word, frequency in found["common"]]
