"""Whether a contracted denial hides in a copula that lasts too long: "isn't" heard as "is".

In noise, and with some voices without any, the sounds behind the vowel are lost. Of 660 contracted denials (flite,
festival, Piper and espeak voices, nine conditions) 20 scored less than the plain verb by 2 nats or more, at worst
by 3.7, and one of them, without noise, was taken for the plain phrase. Their time is not lost: from the beginning
of the copula to the next word the plain verb takes 0.18 s (three of four) to 0.24 s (19 of 20); 14 of those 20 took
0.21 s or more. So the longer a copula lasts, the more it must lead its denials by.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from speech.competitors import CONTRACTED_COST, Rules
from speech.recogniser import Word

LONG_S: Final = 0.195
"""From the beginning of a copula to the next word: longer than this, it may be a denial."""
MOST_LEAD: Final = 6.0
# At that length what the competitors ask for (CONTRACTED_COST), then more for every second.
_PER_S: Final = 25.0


def lead_needed(seconds: float) -> float:
    """Nats by which a copula of this length must lead its denials; 0 where it is short.

    Short ones are compared with their denials by the competitors alone.
    """
    return 0.0 if seconds <= LONG_S else min(MOST_LEAD, -CONTRACTED_COST + _PER_S * (seconds - LONG_S))


@dataclass(frozen=True)
class Copulas:
    """The copulas of a language, each with the contracted denials that agree with it; what denies by itself."""

    denied: Mapping[str, tuple[str, ...]]
    denials: frozenset[str]

    @classmethod
    def of(cls, rules: Rules) -> "Copulas":
        """Those of a language's rules."""
        agree = {
            copula: tuple(
                sorted(rules.contracted & {*rules.instead} - rules.disagrees.get(copula, frozenset()))
            )
            for copula in rules.copula
        }
        return cls(agree, rules.denials)

    def lingering(self, words: Sequence[Word]) -> list[tuple[int, float]]:
        """Places of the copulas that take long, can be denied and are not, each with the lead that they need."""
        return [
            (at, lead_needed(after.start - word.start))
            for at, (word, after) in enumerate(pairwise(words))
            if self.denied.get(word.word)
            and after.word not in self.denials
            and after.start - word.start > LONG_S
        ]

    def sentences(self, words: Sequence[Word], at: int) -> list[str]:
        """The words with the copula at a place denied, in every way that agrees with it."""
        said = [word.word for word in words]
        return [" ".join([*said[:at], denied, *said[at + 1 :]]) for denied in self.denied[said[at]]]
