"""What may stand at a `{name}` in a phrase: choices, names, labels, numbers, months and spelled tags."""

import calendar
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any, Final

from speech import spelling, spoken_values
from speech.language import DEFAULT, table
from speech.number_slot import Number
from speech.refusals import PhrasesRefused
from speech.slot import Automaton, Draw, Json, Slot, minimal

__all__ = ["Automaton", "Choice", "LabelList", "Name", "Number", "Slot", "Spelling", "load_slots", "minimal"]


@dataclass(frozen=True)
class Choice(Slot):
    """A short list of values, each with its wordings."""

    values: tuple[tuple[Json, tuple[str, ...]], ...]

    @cached_property
    def _by_words(self) -> dict[tuple[str, ...], Json]:
        return {tuple(say.split()): value for value, says in self.values for say in says}

    def value(self, words: Sequence[str]) -> Json | None:
        """See Slot."""
        return self._by_words.get(tuple(words))

    def automaton(self) -> Automaton:
        """See Slot."""
        return minimal(self._by_words)

    def bounds(self) -> str:
        """See Slot."""
        return " | ".join(" or ".join(says) for _, says in self.values)

    def say(self, value: Json) -> str | None:
        """See Slot."""
        same = (says[0] for listed, says in self.values if type(listed) is type(value) and listed == value)
        return next(same, None)

    def sample(self, draw: Draw) -> str:
        """See Slot."""
        return str(draw(draw(self.values)[1]))


class Name(Choice):
    """What a site calls its sources and circuits."""


@dataclass(frozen=True)
class LabelList(Slot):
    """One to `most` contact labels joined by the word for and, or a range of plain numbers."""

    labels: tuple[str, ...]
    most: int
    joined_by: str
    range_by: str
    language: str = DEFAULT

    @cached_property
    def _by_words(self) -> dict[tuple[str, ...], str]:
        said = ((spelling.label_words(label, self.language), label) for label in self.labels)
        return {tuple(words.split()): label for words, label in said if words}

    def value(self, words: Sequence[str]) -> Json | None:
        """The labels in spoken order; None for a label said twice or a range that is not on the chart."""
        if self.range_by in words:
            return self._range(list(words))
        found, start = [], 0
        for at in [*(i for i, w in enumerate(words) if w == self.joined_by), len(words)]:
            label = self._by_words.get(tuple(words[start:at]))
            if label is None or label in found:
                return None
            found.append(label)
            start = at + 1
        return found if 2 <= len(found) <= self.most else None

    def _range(self, words: list[str]) -> Json | None:
        at = words.index(self.range_by)
        ends = [self._by_words.get(tuple(part)) for part in (words[:at], words[at + 1 :])]
        if not all(end and end.isdigit() for end in ends):
            return None
        low, high = (int(end) for end in ends if end)
        labels = [str(number) for number in range(low, high + 1)]
        return labels if low < high and set(labels) <= set(self.labels) else None

    def automaton(self) -> Automaton:
        """See Slot."""
        one = minimal(self._by_words)
        size = 1 + max((max(a, b) for a, _, b in one.arcs), default=0)
        arcs: list[tuple[int, str, int]] = []
        ends: set[int] = set()
        for turn in range(self.most):
            shift = turn * size
            arcs += [(a + shift, word, b + shift) for a, word, b in one.arcs]
            here = {end + shift for end in one.ends}
            if turn:
                ends |= here
            if turn + 1 < self.most:
                arcs += [(end, self.joined_by, shift + size) for end in here]
        arcs += [(end, self.range_by, (self.most - 1) * size) for end in one.ends]
        return Automaton(tuple(arcs), frozenset(ends))

    def bounds(self) -> str:
        """See Slot."""
        return (
            f"2 to {self.most} contact labels joined by {self.joined_by!r}, or a range with {self.range_by!r}"
        )

    def say(self, value: Json) -> str | None:
        """See Slot."""
        known = {label: " ".join(words) for words, label in self._by_words.items()}
        if not isinstance(value, list) or not all(label in known for label in value):
            return None
        return f" {self.joined_by} ".join(known[label] for label in value)

    def sample(self, draw: Draw) -> str:
        """See Slot."""
        says = [" ".join(words) for words in self._by_words]
        picked = list(dict.fromkeys(draw(says) for _ in range(draw(range(2, self.most + 1)))))
        if len(picked) < 2:
            picked = says[:2]
        return f" {self.joined_by} ".join(picked)


@dataclass(frozen=True)
class Spelling(Slot):
    """Letters and then digits of a tag, sign by sign."""

    letters: tuple[int, int]
    digits: tuple[int, int]
    language: str = DEFAULT

    def value(self, words: Sequence[str]) -> Json | None:
        """See Slot."""
        found = spelling.spelled(words, self.language)
        if found is None:
            return None
        head = found.rstrip("0123456789")
        tail = found[len(head) :]
        fits = (
            self.letters[0] <= len(head) <= self.letters[1] and self.digits[0] <= len(tail) <= self.digits[1]
        )
        return found if fits and (not head or head.isalpha()) else None

    def automaton(self) -> Automaton:
        """A chain of letters, left for the digits at any allowed length."""
        letters = list(spelling.letters(self.language))
        digits = list(spoken_values.number_words(self.language).spelled_digits)
        most_letters, most_digits = self.letters[1], self.digits[1]
        arcs = [(i, word, i + 1) for i in range(most_letters) for word in letters]
        first = most_letters + 1
        for i in range(self.letters[0], most_letters + 1):
            arcs += [(i, word, first) for word in digits]
        arcs += [(first + i, word, first + i + 1) for i in range(most_digits - 1) for word in digits]
        ends = frozenset(first + i for i in range(self.digits[0] - 1, most_digits))
        return Automaton(tuple(arcs), ends)

    def bounds(self) -> str:
        """See Slot."""
        return "{}-{} letters by the spelling alphabet, then {}-{} digits".format(*self.letters, *self.digits)

    def say(self, value: Json) -> str | None:
        """See Slot."""
        return spelling.spell(value, self.language) if isinstance(value, str) else None

    def sample(self, draw: Draw) -> str:
        """See Slot."""
        letters = list(spelling.letters(self.language))
        digits = list(spoken_values.number_words(self.language).digits)
        head = [draw(letters) for _ in range(draw(range(self.letters[0], self.letters[1] + 1)))]
        return " ".join(head + [draw(digits) for _ in range(draw(range(self.digits[0], self.digits[1] + 1)))])


def _labels(labels: Iterable[str], language: str, *, with_letters: bool) -> Choice:
    said = ((label, spelling.label_words(label, language)) for label in labels)
    return Choice(
        tuple((label, (words,)) for label, words in said if words and not (with_letters and label.isdigit()))
    )


Names = Mapping[str, Sequence[str]]
"""What a site calls things, as spoken: the slot's name (`source`, `foreign`) -> names."""


def load_slots(
    contacts: Sequence[str] = (), language: str = DEFAULT, names: Names = MappingProxyType({})
) -> dict[str, Slot]:
    """The slots of a language; `contacts` are the labels of the chart. Raises PhrasesRefused."""
    found = table("slots", language)
    labels = tuple(contacts) or tuple(found["contact"]["default"])
    return {
        name: _names(names.get(name) or given["default"])
        if given.get("kind") == "name"
        else _slot(name, given, labels, language)
        for name, given in found.items()
    }


def _names(names: Iterable[str]) -> Name:
    """Each name stands in the meaning with underscores: "drain pump" is heard as drain_pump."""
    said = (" ".join(name.lower().replace("-", " ").replace("_", " ").split()) for name in names)
    return Name(tuple((words.replace(" ", "_"), (words,)) for words in dict.fromkeys(said)))


_LIST_WORDS: Final = "list_words"


def _slot(name: str, given: Mapping[str, Any], labels: tuple[str, ...], language: str) -> Slot:
    kind = given.get("kind")
    if kind == "choice":
        return Choice(tuple((value, tuple(says)) for value, says in given["values"].items()))
    if kind == "number":
        return Number(
            given["low"], given["high"], given.get("decimals", 0), given.get("halves", False), language
        )
    if kind == "month":
        return _months(given, language)
    if kind == "spelling":
        return Spelling(tuple(given["letters"]), tuple(given["digits"]), language)
    if kind == "label":
        return _labels(labels, language, with_letters=given.get("only") == "with_letters")
    if kind == "label_list":
        words = table(_LIST_WORDS, language)
        return LabelList(labels, given["most"], words["and"], words["range"], language)
    raise PhrasesRefused(f"slot {name!r} is of no known kind: {kind!r}")


def _months(given: Mapping[str, Any], language: str) -> Choice:
    """Months of a span of years, each standing for its last day (ISO 8601), as calibration labels mean it."""
    values = []
    for year in range(given["first_year"], given["last_year"] + 1):
        spoken = f"{given['century']} {spoken_values.spoken(year % 100, language)}"
        for number, month in enumerate(given["months"], 1):
            last_day = f"{year}-{number:02}-{calendar.monthrange(year, number)[1]:02}"
            values.append((last_day, (f"{month} {spoken}",)))
    return Choice(tuple(values))
