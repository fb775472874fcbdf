"""From pronunciations to `HCLr.fst`: a prefix tree of phones with the words at its leaves.

Words are numbered in the order of a walk through the tree, so that the words below any node form few
intervals: that is what Vosk's look-ahead composition needs, and it saves relabelling.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from speech import openfst, phones

_HALF = math.log(2)  # cost of either choice after a word: silence, or the next word at once
_START, _LOOP, _SILENCE = 0, 1, 2


@dataclass
class _Node:
    phone: int
    children: dict[int, "_Node"] = field(default_factory=dict)
    words: list[str] = field(default_factory=list)
    number: int = 0


def _tree(pronunciations: Mapping[str, Iterable[list[str]]]) -> list[_Node]:
    """The prefix tree as a list in walking order; the root comes first."""
    root = _Node(0)
    for word, spoken in pronunciations.items():
        for sounds in spoken:
            node = root
            for phone in phones.placed(sounds):
                node = node.children.setdefault(phone, _Node(phone))
            if word not in node.words:
                node.words.append(word)
    order: list[_Node] = []
    waiting = [root]
    while waiting:
        node = waiting.pop()
        node.number = len(order)
        order.append(node)
        waiting.extend(node.children[phone] for phone in sorted(node.children, reverse=True))
    return order


def _intervals(numbers: Iterable[int]) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for number in sorted(numbers):
        if found and found[-1][1] == number:
            found[-1] = (found[-1][0], number + 1)
        else:
            found.append((number, number + 1))
    return found


def _leaving(node: _Node, ids: Mapping[str, int]) -> list[openfst.Arc]:
    """Stay in the sound, go on to a longer word, or end a word with or without a silence after it."""
    arcs: list[openfst.Arc] = [(phones.stay(node.phone), 0, 0.0, _SILENCE + node.number)]
    arcs += [(phones.enter(p), 0, 0.0, _SILENCE + child.number) for p, child in node.children.items()]
    for word in node.words:
        arcs.append((0, ids[word], _HALF, _LOOP))
        arcs.append((phones.enter(1), ids[word], _HALF, _SILENCE))
    return arcs


def _reach(order: list[_Node], ids: Mapping[str, int], words: int) -> list[list[tuple[int, int]]]:
    below: dict[int, set[int]] = {}
    for node in reversed(order):
        below[node.number] = {ids[word] for word in node.words}.union(
            *(below[child.number] for child in node.children.values())
        )
    everything = [(1, words + 2)]
    return [everything, everything, everything, *(_intervals(below[n.number]) for n in order[1:])]


def word_graph(pronunciations: Mapping[str, Iterable[list[str]]]) -> tuple[bytes, dict[str, int]]:
    """The bytes of `HCLr.fst` and the number of every word; number 0 is the empty word."""
    order = _tree(pronunciations)
    ids: dict[str, int] = {"": 0}
    for node in order:
        for word in node.words:
            ids.setdefault(word, len(ids))
    words = len(ids) - 1
    begin: list[openfst.Arc] = [(0, 0, _HALF, _LOOP), (phones.enter(1), 0, _HALF, _SILENCE)]
    pause: list[openfst.Arc] = [(0, 0, 0.0, _LOOP), (phones.stay(1), 0, 0.0, _SILENCE)]
    first: list[openfst.Arc] = [
        (phones.enter(p), 0, 0.0, _SILENCE + child.number) for p, child in order[0].children.items()
    ]
    states: list[openfst.State] = [(None, begin), (0.0, first), (None, pause)]
    states += [(None, _leaving(node, ids)) for node in order[1:]]
    states = [(final, sorted(arcs, key=lambda a: (a[1], a[0]))) for final, arcs in states]
    known = openfst.NOT_ACCEPTOR | openfst.OUTPUT_SORTED | openfst.EPSILONS | openfst.OUTPUT_EPSILONS
    return openfst.lookahead_machine(states, _reach(order, ids, words), words + 1, known), ids


def write_words(folder: Path, machine: bytes, ids: Mapping[str, int]) -> None:
    """The files of `graph/` that depend on the words and the phones alone, into an existing folder."""
    (folder / "phones").mkdir(exist_ok=True)
    (folder / "HCLr.fst").write_bytes(machine)
    table = [f"{word or '<eps>'} {number}\n" for word, number in sorted(ids.items(), key=lambda i: i[1])]
    (folder / "words.txt").write_text("".join(table), encoding="utf-8")
    kinds = [f"{number} {kind}\n" for number, kind in enumerate(phones.KINDS, start=1)]
    (folder / "phones" / "word_boundary.int").write_text("".join(kinds), encoding="utf-8")
    names = [f"{name} {number}\n" for name, number in phones.NUMBERS.items()]
    (folder / "phones.txt").write_text("<eps> 0\n" + "".join(names), encoding="utf-8")
    never = 2 * len(phones.NAMES) + 1  # the file must name one transition id; this one never occurs
    (folder / "disambig_tid.int").write_text(f"{never}\n", encoding="utf-8")
