"""Tells the story in the terminal: what was said, seen, wanted, concluded, and where the pictures lie."""

import sys
import textwrap
import time
from collections.abc import Iterable, Mapping
from typing import Any, TextIO

WIDTH = 100
MARGIN = 12


class Narrator:
    """Writes to a stream, each line with the seconds since the start."""

    def __init__(self, out: TextIO = sys.stdout) -> None:
        self._out = out
        self._began = time.monotonic()

    def title(self, text: str) -> None:
        """Write a heading."""
        self._write(f"\n{text}\n{'=' * len(text)}")

    def tell(self, text: str) -> None:
        """Write a sentence of the story."""
        seconds = time.monotonic() - self._began
        self._write(f"\n[{seconds:5.1f} s] {text}")

    def line(self, what: str, text: str) -> None:
        """Write one thing that happened, under its short name."""
        wrapped = textwrap.wrap(text, WIDTH - MARGIN) or [""]
        self._write(f"  {what:<{MARGIN - 3}} {wrapped[0]}")
        for more in wrapped[1:]:
            self._write(" " * MARGIN + more)

    def findings(self, findings: Iterable[Mapping[str, Any]]) -> None:
        """Write findings grouped by verdict, what disagrees first."""
        groups: dict[str, list[str]] = {}
        for one in findings:
            groups.setdefault(one["verdict"], []).append(one["label"])
        for verdict in sorted(groups, key=lambda name: name == "agreed"):
            self.line("concluded", f"{verdict}: {', '.join(groups[verdict])}")

    def _write(self, text: str) -> None:
        print(text, file=self._out, flush=True)
