"""The exact graph of what may be said: phrases as a tree, slots as sub-graphs, corrections as a second pass.

A state holds its arcs and the cost of ending there. The graph is written as `Gr.fst`, the machine that Vosk
composes with the lexicon when no run-time grammar is given.
"""

from collections.abc import Iterable, Mapping, Sequence

from speech import openfst
from speech.phrase import Phrase
from speech.slots import Slot

SILENT = ""
"""The word of an arc that is taken without speaking."""


class WordGraph:
    """States numbered from 0 (the beginning), each with arcs word -> state at a cost in nats."""

    def __init__(self) -> None:
        self.ends: list[float | None] = [None]
        self.arcs: list[dict[tuple[str, int], float]] = [{}]
        self._after: dict[tuple[int, str | Slot], int] = {}

    def state(self, end: float | None = None) -> int:
        """A further state."""
        self.ends.append(end)
        self.arcs.append({})
        return len(self.ends) - 1

    def link(self, start: int, word: str, to: int, cost: float = 0.0) -> None:
        """An arc; of two with the same word and target the cheaper one stays."""
        known = self.arcs[start].get((word, to))
        if known is None or cost < known:
            self.arcs[start][word, to] = cost

    def phrase(self, phrase: Phrase, start: int = 0) -> int:
        """Add one phrase behind `start`; returns the state in which it ends."""
        slots = {"{" + name + "}": slot for name, slot in phrase.slots}
        at = start
        for token in phrase.words():
            at = self._slot(at, slots[token]) if token in slots else self._word(at, token)
        self.ends[at] = 0.0
        return at

    def _word(self, at: int, word: str) -> int:
        if (at, word) not in self._after:
            to = self._after[at, word] = self.state()
            self.link(at, word, to)
        return self._after[at, word]

    def _slot(self, at: int, slot: Slot) -> int:
        if (at, slot) not in self._after:
            drawn = slot.automaton()
            placed = {0: at}
            for state in sorted({s for a, _, b in drawn.arcs for s in (a, b)} - {0}):
                placed[state] = self.state()
            for a, word, b in drawn.arcs:
                self.link(placed[a], word, placed[b])
            out = self._after[at, slot] = self.state()
            for end in drawn.ends:
                self.link(placed[end], SILENT, out)
        return self._after[at, slot]

    def words(self) -> set[str]:
        """Every word on an arc."""
        return {word for arcs in self.arcs for word, _ in arcs if word}

    def loop(self, start: int, words: Mapping[str, float], each: float, to: int | None = None) -> None:
        """These words any number of times, the first at its own cost; ends there, or goes on to `to`."""
        inside = self.state(0.0 if to is None else None)
        for word, enter in words.items():
            self.link(start, word, inside, enter)
            self.link(inside, word, inside, each)
        if to is not None:
            self.link(inside, SILENT, to)

    def following(self, said: Sequence[str]) -> set[str]:
        """Words that may come next after these, at no cost; empty when these are no beginning of a phrase."""
        here = self.after_silence(0)
        for word in said:
            taken = {to for s in here for (w, to), cost in self.arcs[s].items() if w == word and not cost}
            here = self.after_silence(*taken)
        return {word for s in here for (word, _), cost in self.arcs[s].items() if word and not cost}

    def after_silence(self, *states: int) -> set[int]:
        """These states and all that are reached from them without a word and at no cost."""
        found, waiting = set(states), list(states)
        while waiting:
            for (word, to), cost in self.arcs[waiting.pop()].items():
                if word == SILENT and not cost and to not in found:
                    found.add(to)
                    waiting.append(to)
        return found

    def machine(self, ids: Mapping[str, int]) -> bytes:
        """The bytes of `Gr.fst`; every word MUST have a number in `ids`."""
        states: list[openfst.State] = [
            (end, sorted((ids[word], ids[word], cost, to) for (word, to), cost in arcs.items()))
            for end, arcs in zip(self.ends, self.arcs, strict=True)
        ]
        return openfst.const_machine(states, openfst.ACCEPTOR | openfst.INPUT_SORTED | openfst.OUTPUT_SORTED)


def exact_graph(phrases: Sequence[Phrase], correction: Sequence[str] = ()) -> WordGraph:
    """The graph of exactly these phrases, and of a phrase corrected by another of its group."""
    graph = WordGraph()
    ended: dict[str, list[int]] = {}
    for phrase in phrases:
        end = graph.phrase(phrase)
        if phrase.corrects:
            ended.setdefault(phrase.group, []).append(end)
    for group, ends in ended.items():
        again = graph.state()
        for end in dict.fromkeys(ends):
            for word in correction:
                graph.link(end, word, again)
        for phrase in phrases:
            if phrase.corrects and phrase.group == group:
                graph.phrase(phrase, again)
    return graph


def phone_loop(names: Iterable[str]) -> WordGraph:
    """Any sounds in any order: what the speech is like when nothing is expected."""
    graph = WordGraph()
    graph.ends[0] = 0.0
    for name in names:
        graph.link(0, name, 0)
    return graph


def among_phones(names: Iterable[str], word: str) -> WordGraph:
    """One word somewhere among any sounds."""
    graph = WordGraph()
    after = graph.state(0.0)
    for name in names:
        graph.link(0, name, 0)
        graph.link(after, name, after)
    for state in (0, after):
        graph.link(state, word, after)
    return graph
