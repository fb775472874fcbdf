"""The slot of a number within bounds, and its word graph."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from speech import spoken_values
from speech.language import DEFAULT
from speech.slot import Automaton, Draw, Json, Slot, minimal


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
