"""What a slot promises: a word graph with stated bounds, and the value of its words.

A slot MUST accept no words whose value it cannot name. Its graph may let a few more through (a number
above the bound); `value` is the judge, so that the refusal can say what was wrong.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

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
