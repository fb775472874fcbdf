"""The phrases with their meaning turned round or weakened: what a clear phrase must lead by a margin.

| rule | stands for |
|---|---|
| turn | a word said as one of the other side of its pair: the opposite state |
| weaken | "is" said as another tense or as an expectation, or such a word put before what is stated without a verb |

They stand beside the phrases in one graph, so that one search gives the best phrase and what comes near it: by how much
it leads the nearest sentence that is no phrase and would do harm in its place. Denials are left to the competitors,
which prefer them.
The words come from the language's table `competitors`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from speech.language import DEFAULT, table
from speech.word_graph import WordGraph

_DENIED: Final = ""


@dataclass(frozen=True)
class Turns:
    """The words of one language that turn or weaken a meaning."""

    opposites: Mapping[str, tuple[str, ...]]
    side: Mapping[str, str]
    weaker: tuple[str, ...]
    auxiliary: tuple[str, ...]
    bare: frozenset[str]
    copula: frozenset[str]
    denials: frozenset[str]

    def words(self) -> set[str]:
        """Every word that a turned path may hold beside those of the phrases."""
        return {word for words in self.opposites.values() for word in words} | {*self.weaker, *self.auxiliary}

    def harms(self, heard: str, meant: str) -> bool:
        """Whether it would do harm to take `heard` where `meant` was said: a side, a denial, a weaker verb is lost.

        What else differs does not count. Neither does the verb behind a denial: "was not" restricts as "is not".
        """
        denies = _DENIED in self._poles(heard)
        mine, other = (
            [p for p in self._poles(text) if not (denies and p in self.weaker)] for text in (heard, meant)
        )
        return mine != other

    def _poles(self, text: str) -> list[str]:
        marked = (_DENIED if word in self.denials else self.side.get(word) for word in text.split())
        return [pole for pole in marked if pole is not None]


def load_turns(language: str = DEFAULT) -> Turns:
    """The turns of a language from its table `competitors`."""
    t: Mapping[str, Any] = table("competitors", language)
    opposites: dict[str, tuple[str, ...]] = {}
    weaker = tuple(t["weaker"].split())
    side_of = {word: word for word in weaker}
    for sides in t["turns"]:
        for side in sides:
            others = tuple(word for other in sides if other != side for word in other.split())
            opposites |= dict.fromkeys(side.split(), others)
            side_of |= dict.fromkeys(side.split(), side)
    denials = frozenset((t["denials"] + " " + t["contracted"]).split())
    after = tuple(t["after_weaker"].split())
    bare = frozenset(opposites) | frozenset(t["said_without_verb"].split())
    return Turns(opposites, side_of, weaker, after, bare, frozenset(t["copula"]), denials)


def with_turned(exact: WordGraph, turns: Turns) -> WordGraph:
    """The graph of the phrases of `exact`, each also with one word or more turned or weakened."""
    graph = turned_graph(exact, turns)
    graph.ends[: len(exact.ends)] = exact.ends
    return graph


def turned_graph(exact: WordGraph, turns: Turns) -> WordGraph:
    """A graph of the phrases of `exact` with at least one word turned or weakened."""
    graph, size = WordGraph(), len(exact.ends)
    for _ in range(2 * size - 1):
        graph.state()
    graph.ends[size:] = exact.ends
    for state, arcs in enumerate(exact.arcs):
        for (word, to), cost in arcs.items():
            graph.link(state, word, to, cost)
            graph.link(size + state, word, size + to, cost)
    behind_copula = {to for arcs in exact.arcs for word, to in arcs if word in turns.copula}
    for state, arcs in enumerate(exact.arcs):
        listed = {word for word, _ in arcs}
        for word, to in arcs:
            for other in turns.opposites.get(word, ()):
                if other not in listed:
                    graph.link(state, other, size + to)
            if word in turns.copula:
                _weaken(graph, turns, state, {("", size + to)})
        states = {(word, size + to) for word, to in arcs if word in turns.bare}
        if states and state not in behind_copula:
            _weaken(graph, turns, state, states)
    return graph


def _weaken(graph: WordGraph, turns: Turns, state: int, onward: set[tuple[str, int]]) -> None:
    """A weaker word from `state`, perhaps with its auxiliary ("should be"), then on by any of `onward`."""
    weakened = graph.state()
    for word in turns.weaker:
        graph.link(state, word, weakened)
    for word in turns.auxiliary:
        graph.link(weakened, word, weakened)
    for word, to in onward:
        graph.link(weakened, word, to)
