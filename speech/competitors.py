"""What else could have been said: arcs by rule that stand for speech which must be refused.

| rule | stands for |
|---|---|
| before | a question, hearsay, a wish, a condition, an address in front of a phrase |
| between | a denial, a hedge, a quantity between two words |
| copula | "is" said as another tense, mood or denial, or left out as in a question |
| after | a tag question, hearsay, doubt, time behind a phrase |
| swap | a word replaced by another of its class: a phrase that nobody listed |
| cut | a phrase begun late or ended early |

A path that uses such an arc has a text that is no phrase, so the text alone refuses it. The rules come from
the language's table `competitors`, the costs were chosen on development clips (nats; see training/README.md).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from speech.language import DEFAULT, table
from speech.word_graph import SILENT, WordGraph

COST: Final = 4.0
SWAP_COST: Final = 2.0
FURTHER_COST: Final = 1.0
CONTRACTED_COST: Final = -3.0
COPULA_COST: Final = 1.0
WEAK_COST: Final = 9.0


@dataclass(frozen=True)
class Rules:
    """The competitor words of one language, and its words for a correction and for stop."""

    before: tuple[str, ...]
    between: tuple[str, ...]
    copula: frozenset[str]
    instead: tuple[str, ...]
    auxiliary: tuple[str, ...]
    after: tuple[str, ...]
    swaps: Mapping[str, tuple[str, ...]]
    contracted: frozenset[str]
    disagrees: Mapping[str, frozenset[str]]
    weak: frozenset[str]
    denials: frozenset[str]
    correction: tuple[str, ...]
    stop_word: str
    language: str = DEFAULT

    def cost(self, word: str, usual: float) -> float:
        """The cost of a word put in: more for one that noise sounds like and that changes nothing."""
        return max(usual, WEAK_COST) if word in self.weak else usual

    def copula_cost(self, word: str, copula: str, usual: float) -> float:
        """The cost of a word instead of a copula: low, and a contracted denial that agrees with it is even preferred.

        There one short word decides: "was" or "isn't" for "is" is believed on weak evidence, "aren't" for "is" less.
        """
        preferred = word in self.contracted and word not in self.disagrees.get(copula, ())
        return CONTRACTED_COST if preferred else min(usual, COPULA_COST)

    @property
    def plain_auxiliary(self) -> frozenset[str]:
        """What may follow a contracted denial: "won't be", not "isn't not"."""
        return frozenset(self.auxiliary) - self.denials

    def words(self) -> set[str]:
        """Every word that a competitor may hold."""
        swapped = {word for words in self.swaps.values() for word in words}
        return {
            *self.before,
            *self.between,
            *self.instead,
            *self.auxiliary,
            *self.after,
            *self.copula,
        } | swapped


def load_rules(language: str = DEFAULT) -> Rules:
    """The rules of a language from its table `competitors`."""
    t: Mapping[str, Any] = table("competitors", language)
    classes = [family.split() for family in t["classes"]]
    known = {word for family in classes for word in family}
    swaps = {w: tuple(sorted({v for family in classes if w in family for v in family} - {w})) for w in known}
    return Rules(
        before=tuple(dict.fromkeys(t["before"].split())),
        between=tuple(dict.fromkeys(t["between"].split() + t["instead_of_copula"].split() + t["copula"])),
        copula=frozenset(t["copula"]),
        instead=tuple(t["instead_of_copula"].split()),
        auxiliary=tuple(t["after_auxiliary"]),
        after=tuple(dict.fromkeys(t["after"].split())),
        swaps=swaps,
        contracted=frozenset(t["contracted"].split()),
        disagrees={copula: frozenset(words.split()) for copula, words in t["disagrees"].items()},
        weak=frozenset(t["weak"].split()),
        denials=frozenset(t["denials"].split()),
        correction=tuple(table("list_words", language)["correction"]),
        stop_word=str(table("list_words", language)["stop"]),
        language=language,
    )


def add_competitors(graph: WordGraph, rules: Rules, cost: float = COST, swap: float = SWAP_COST) -> WordGraph:
    """Put the competitors beside every phrase of `graph`, in place; returns the graph."""
    inner = range(1, len(graph.ends))
    ends = [state for state in inner if graph.ends[state] is not None]
    spoken = [(s, dict(graph.arcs[s])) for s in range(len(graph.ends))]
    for state, arcs in spoken:
        _swaps(graph, rules, state, arcs, swap)
        _copula(graph, rules, state, arcs, cost)
    for state in inner:
        for word in rules.between:
            graph.link(state, word, state, rules.cost(word, cost))
        if graph.ends[state] is None:
            graph.ends[state] = cost
        if spoken[state][1]:
            graph.link(0, SILENT, state, cost)
    graph.loop(0, {word: rules.cost(word, cost) for word in rules.before}, FURTHER_COST, to=0)
    tail = graph.state()
    graph.loop(tail, {word: rules.cost(word, cost) for word in rules.after}, FURTHER_COST)
    for end in ends:
        graph.link(end, SILENT, tail)
    return graph


def _swaps(
    graph: WordGraph, rules: Rules, state: int, arcs: Mapping[tuple[str, int], float], cost: float
) -> None:
    for word, to in arcs:
        for other in rules.swaps.get(word, ()):
            if (other, to) not in arcs:
                graph.link(state, other, to, cost)


def _copula(
    graph: WordGraph, rules: Rules, state: int, arcs: Mapping[tuple[str, int], float], cost: float
) -> None:
    """A word instead of the copula, then perhaps a second one ("should be", "will not be"); or none.

    Behind a contracted denial no further denial follows: "isn't not" is never said, and would only take "is not"
    away from those who say it.
    """
    for word, to in arcs:
        if word not in rules.copula:
            continue
        undenied = _without_denial(graph, rules, to, cost)
        for after, allowed in ((to, frozenset(rules.auxiliary)), (undenied, rules.plain_auxiliary)):
            second = graph.state()
            for other in rules.instead:
                if (other in rules.contracted) == (after == undenied):
                    graph.link(state, other, after, rules.copula_cost(other, word, cost))
                    graph.link(state, other, second, rules.copula_cost(other, word, cost))
            for other in sorted(allowed):
                graph.link(second, other, after, FURTHER_COST)
                graph.link(second, other, second, FURTHER_COST)
        graph.link(state, SILENT, to, cost)


def _without_denial(graph: WordGraph, rules: Rules, state: int, cost: float) -> int:
    """A new state that goes on as `state` does, with words between, but without a denial."""
    made = graph.state(cost if graph.ends[state] is None else graph.ends[state])
    for (word, to), price in list(graph.arcs[state].items()):
        if word not in rules.denials:
            graph.link(made, word, to, price)
    for word in rules.between:
        if word not in rules.denials:
            graph.link(made, word, made, rules.cost(word, cost))
    return made
