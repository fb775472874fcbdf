"""Writes the two OpenFst machine types that Vosk needs, byte by byte.

Layout read from OpenFst 1.7.9 (`fst/fst.h`, `const-fst.h`, `matcher-fst.h`, `label-reachable.h`).
Neither Debian's libfst nor pynini can write `olabel_lookahead`, which run-time grammars need.
"""

import math
import struct
from collections.abc import Sequence

Arc = tuple[int, int, float, int]
"""Input label, output label, cost in nats, next state."""

State = tuple[float | None, Sequence[Arc]]
"""Cost of ending here (None: not an end), and the arcs that leave."""

EXPANDED, ACCEPTOR, NOT_ACCEPTOR = 0x1, 0x10000, 0x20000
EPSILONS, OUTPUT_EPSILONS = 0x400000, 0x4000000
INPUT_SORTED, OUTPUT_SORTED = 0x10000000, 0x40000000
_MAGIC, _ADD_ON_MAGIC = 2125659606, 446681434


def _header(kind: str, version: int, properties: int, counted: tuple[int, int, int]) -> bytes:
    named = b"".join(struct.pack("<i", len(name)) + name.encode() for name in (kind, "standard"))
    counts = struct.pack("<iiQqqq", version, 0, properties | EXPANDED, *counted)
    return struct.pack("<i", _MAGIC) + named + counts


def const_machine(states: Sequence[State], properties: int, start: int = 0) -> bytes:
    """A `const` machine. Arcs MUST be sorted as the properties say; costs are nats."""
    out = bytearray(_header("const", 2, properties, (start, len(states), sum(len(a) for _, a in states))))
    first = 0
    for final, arcs in states:
        silent_in, silent_out = sum(a[0] == 0 for a in arcs), sum(a[1] == 0 for a in arcs)
        cost = math.inf if final is None else final
        out += struct.pack("<fIIII", cost, first, len(arcs), silent_in, silent_out)
        first += len(arcs)
    for _, arcs in states:
        for arc in arcs:
            out += struct.pack("<iifi", *arc)
    return bytes(out)


def lookahead_machine(
    states: Sequence[State], reach: Sequence[Sequence[tuple[int, int]]], final_label: int, properties: int
) -> bytes:
    """An `olabel_lookahead` machine: a `const` machine and which output labels each state can reach.

    `reach` holds for every state half-open intervals of labels; `final_label` stands for an end that
    is reached without output.
    """
    out = bytearray(_header("olabel_lookahead", 1, properties, (-1, 0, 0)))
    out += struct.pack("<i", _ADD_ON_MAGIC) + const_machine(states, properties)
    out += b"\1\0\1"  # an add-on, without input part, with output part
    out += b"\0\0" + struct.pack("<i", final_label)  # not by input, no relabelling kept
    out += struct.pack("<q", len(reach))
    for intervals in reach:
        out += struct.pack("<q", len(intervals))
        for low, high in intervals:
            out += struct.pack("<ii", low, high)
        out += struct.pack("<i", sum(high - low for low, high in intervals))
    return bytes(out)
