"""Loaded Vosk models by folder, few at a time: each holds the whole acoustic model, 16 MB.

A service may follow many steps of many jobs; what it keeps in memory MUST NOT grow with them. The graphs used last stay
loaded; one that was let go is loaded again when it is needed, in 0.1 s.
"""

import threading
from collections import OrderedDict
from pathlib import Path
from typing import Any, Final
from weakref import WeakValueDictionary

import vosk

from speech.refusals import ModelRefused


class LoadedGraphs:
    """At most `most` models that nobody else holds. Safe to use from several threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Path, Any] = OrderedDict()
        self._held: WeakValueDictionary[Path, Any] = WeakValueDictionary()
        self._one_at_a_time = threading.Lock()

    def of(self, folder: Path) -> Any:  # noqa: ANN401 - the library has no types
        """The model of a folder, the same as long as somebody holds it; raises ModelRefused when it is none."""
        with self._one_at_a_time:
            model = self._held.get(folder)
            if model is None:
                model = self._held[folder] = load_model(folder)
            self._kept[folder] = model
            self._kept.move_to_end(folder)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return model

    def forget(self, folder: Path) -> None:
        """The folder is gone for good."""
        with self._one_at_a_time:
            self._kept.pop(folder, None)


def load_model(folder: Path) -> Any:  # noqa: ANN401 - the library has no types
    """The loaded Vosk model; raises ModelRefused when Vosk cannot load it."""
    try:
        return vosk.Model(str(folder))
    except Exception as fault:
        raise ModelRefused(f"{folder} cannot be loaded as a Vosk model") from fault


LAST_USED: Final = LoadedGraphs(4)
"""For the graphs of steps: those of two steps, which are used in turn without being loaded again."""
