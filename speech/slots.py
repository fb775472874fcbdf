"""What may stand at a `{name}` in a phrase: each slot is a small word graph with stated bounds.

A slot MUST accept no words whose value it cannot name. Its graph may let a few more through (a number
above the bound); `value` is the judge, so that the refusal can say what was wrong.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any, Final

from speech import spelling, spoken_values
from speech.language import DEFAULT, table
from speech.refusals import PhrasesRefused

Json = Any
Draw = Callable[[Sequence[Any]], Any]
"""Picks one of a sequence: for sampling sentences, handed in so that chance stays outside."""


@dataclass(frozen=True)
class Automaton:
    """Words as arcs (from, word, to); state 0 begins, `ends` end."""

    arcs: tuple[tuple[int, str, int], ...]
    ends: frozenset[int]


class Slot(ABC):
    """One slot: its graph, its values, its bounds in words."""

    @abstractmethod
    def value(self, words: Sequence[str]) -> Json | None:
        """The JSON value of these words, or None when they are not one of the slot's values."""

    @abstractmethod
    def automaton(self) -> Automaton:
        """The word graph of everything `value` accepts."""

    @abstractmethod
    def bounds(self) -> str:
        """What may be said here, for the card."""

    @abstractmethod
    def say(self, value: Json) -> str | None:
        """The usual words for a value, or None when it is not one of the slot's values."""

    @abstractmethod
    def sample(self, draw: Draw) -> str:
        """Words of one value, chosen by `draw`."""


def minimal(sequences: Iterable[tuple[str, ...]]) -> Automaton:
    """The smallest graph that accepts exactly these word sequences: equal tails are shared."""
    tree: dict[Any, Any] = {}
    for sequence in sequences:
        node = tree
        for word in sequence:
            node = node.setdefault(word, {})
        node[None] = {}
    kept: dict[tuple[bool, tuple[tuple[str, int], ...]], int] = {}
    arcs: list[tuple[int, str, int]] = []

    def number(node: dict[Any, Any]) -> int:
        onward = tuple(sorted((word, number(child)) for word, child in node.items() if word is not None))
        shape = None in node, onward
        if shape not in kept:
            kept[shape] = len(kept)
            arcs.extend((kept[shape], word, to) for word, to in onward)
        return kept[shape]

    root = number(tree)
    swap = {root: 0, 0: root}
    ends = frozenset(swap.get(n, n) for shape, n in kept.items() if shape[0])
    return Automaton(tuple((swap.get(a, a), word, swap.get(b, b)) for a, word, b in arcs), ends)


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
class Number(Slot):
    """A number within bounds: whole, decimal, digit by digit, where allowed with a half or a quarter."""

    low: float
    high: float
    decimals: int = 0
    halves: bool = False
    language: str = DEFAULT

    def value(self, words: Sequence[str]) -> Json | None:
        """See Slot."""
        value = spoken_values.number(words, self.language)
        if value is None or not self.low <= value <= self.high:
            return None
        if not self.halves and self._has_fraction(words):
            return None
        return value if round(value, self.decimals) == value else None

    def _has_fraction(self, words: Sequence[str]) -> bool:
        tails = spoken_values.number_words(self.language).fractions
        return any(tuple(words[-len(tail) :]) == tail for tail in tails)

    def automaton(self) -> Automaton:
        """Whole part by everyday words or by digits, then perhaps a point with digits or a fraction."""
        n = spoken_values.number_words(self.language)
        build = _Arcs()
        whole = build.whole_part(n, int(self.high))
        ends = set(whole)
        if self.decimals:
            build.after_point(n, whole, self.decimals, ends)
        if self.halves:
            build.fractions(n, whole, ends)
        return Automaton(tuple(build.arcs), frozenset(ends))

    def bounds(self) -> str:
        """See Slot."""
        exact = f", up to {self.decimals} decimals" if self.decimals else ", whole"
        half = ", halves and quarters" if self.halves else ""
        return f"{self.low:g} to {self.high:g}{exact}{half}; digit by digit is heard too"

    def say(self, value: Json) -> str | None:
        """See Slot."""
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not self.low <= value <= self.high
        ):
            return None
        return spoken_values.spoken(value, self.language)

    def sample(self, draw: Draw) -> str:
        """See Slot."""
        high = draw([h for h in (9, 19, 99, int(self.high)) if h <= self.high])
        value = draw(range(int(self.low), int(high) + 1))
        kind = draw(["plain", "plain", "digits", "decimal", "fraction"])
        if kind == "digits" and value > 9:
            return spoken_values.digit_by_digit(value, self.language)
        words = spoken_values.spoken(value, self.language)
        n = spoken_values.number_words(self.language)
        if kind == "decimal" and self.decimals and value < self.high:
            return f"{words} {n.points[0]} {draw(list(n.digits))}"
        if kind == "fraction" and self.halves and 0 < value < self.high:
            return f"{words} {' '.join(draw(list(n.fractions)))}"
        return words


class _Arcs:
    """Builds the graph of a number; state 0 begins."""

    def __init__(self) -> None:
        self.arcs: list[tuple[int, str, int]] = []
        self._states = 1

    def state(self) -> int:
        self._states += 1
        return self._states - 1

    def link(self, start: int, words: Iterable[str], to: int) -> None:
        self.arcs += [(start, word, to) for word in words]

    def below_hundred(self, n: spoken_values.NumberWords, start: int, *, zero: bool) -> set[int]:
        unit, ten = self.state(), self.state()
        self.link(start, [w for w, v in n.digits.items() if v or zero] + list(n.teens), unit)
        self.link(start, n.tens, ten)
        self.link(ten, [w for w, v in n.digits.items() if v], unit)
        return {unit, ten}

    def whole_part(self, n: spoken_values.NumberWords, high: int) -> set[int]:
        ends = self.below_hundred(n, 0, zero=True)
        if high >= 100:
            digit, hundred, joined = self.state(), self.state(), self.state()
            self.link(0, [w for w, v in n.digits.items() if v], digit)
            self.link(digit, [n.hundred], hundred)
            ends.add(hundred)
            if high > 100:
                self.link(hundred, [n.joined_by], joined)
                for start in (hundred, joined):
                    ends |= self.below_hundred(n, start, zero=False)
        if high >= 1000:
            digit, thousand = self.state(), self.state()
            self.link(0, [w for w, v in n.digits.items() if v == 1], digit)
            self.link(digit, [n.thousand], thousand)
            ends.add(thousand)
        return ends | self.digits(n, 0, len(str(high)))

    def digits(self, n: spoken_values.NumberWords, start: int, most: int) -> set[int]:
        ends, at = set(), start
        for turn in range(most):
            after = self.state()
            self.link(at, n.spelled_digits, after)
            if turn:
                ends.add(after)
            at = after
        return ends

    def after_point(
        self, n: spoken_values.NumberWords, whole: set[int], decimals: int, ends: set[int]
    ) -> None:
        at = self.state()
        for state in whole:
            self.link(state, n.points, at)
        for _ in range(decimals):
            after = self.state()
            self.link(at, n.spelled_digits, after)
            ends.add(after)
            at = after

    def fractions(self, n: spoken_values.NumberWords, whole: set[int], ends: set[int]) -> None:
        tail = minimal(n.fractions)
        shift = self._states
        self._states += 1 + max(max(a, b) for a, _, b in tail.arcs)
        self.arcs += [(a + shift, word, b + shift) for a, word, b in tail.arcs if a]
        for state in whole:
            self.arcs += [(state, word, b + shift) for a, word, b in tail.arcs if not a]
        ends |= {end + shift for end in tail.ends}


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


def _names(names: Iterable[str]) -> Choice:
    """Each name stands in the meaning with underscores: "drain pump" is heard as drain_pump."""
    said = (" ".join(name.lower().replace("-", " ").replace("_", " ").split()) for name in names)
    return Choice(tuple((words.replace(" ", "_"), (words,)) for words in dict.fromkeys(said)))


_LIST_WORDS: Final = "list_words"


def _slot(name: str, given: Mapping[str, Any], labels: tuple[str, ...], language: str) -> Slot:
    kind = given.get("kind")
    if kind == "choice":
        return Choice(tuple((value, tuple(says)) for value, says in given["values"].items()))
    if kind == "number":
        return Number(
            given["low"], given["high"], given.get("decimals", 0), given.get("halves", False), language
        )
    if kind == "spelling":
        return Spelling(tuple(given["letters"]), tuple(given["digits"]), language)
    if kind == "label":
        return _labels(labels, language, with_letters=given.get("only") == "with_letters")
    if kind == "label_list":
        words = table(_LIST_WORDS, language)
        return LabelList(labels, given["most"], words["and"], words["to"], language)
    raise PhrasesRefused(f"slot {name!r} is of no known kind: {kind!r}")
