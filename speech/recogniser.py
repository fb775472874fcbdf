"""Vosk, kept behind one door: one model for each graph, and the best path of a sound through it.

Vosk's run-time grammar lets the words of different phrases recombine; a graph of our own does not. A path
score exists only where alternatives are asked for; scores of two graphs may be compared when both heard
exactly the same samples.
"""

import json
import shutil
import tempfile
import weakref
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import vosk

from speech.lexicon_graph import write_words
from speech.loaded_graphs import LAST_USED, LoadedGraphs
from speech.model_folder import ModelFolder
from speech.word_graph import WordGraph

Samples = np.ndarray[Any, np.dtype[np.int16]]
RATE = 16_000

vosk.SetLogLevel(-1)


@dataclass(frozen=True)
class Word:
    """One word with its times in seconds from the beginning of the sound, and how sure it is (0 to 1)."""

    word: str
    start: float
    end: float
    conf: float = 1.0


@dataclass(frozen=True)
class BestPath:
    """The best way of a sound through a graph: its text, its score in nats, its words."""

    text: str
    score: float
    words: tuple[Word, ...]


class Graphs:
    """A folder of graphs over one acoustic model; removed when nobody uses it any more."""

    def __init__(
        self, model: ModelFolder, machine: bytes, ids: Mapping[str, int], loaded: LoadedGraphs = LAST_USED
    ) -> None:
        self._model, self._ids, self._loaded = model, ids, loaded
        self._folder = Path(tempfile.mkdtemp(prefix="hearing-"))
        self._gone = weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
        self._shared = self._folder / "shared"
        self._shared.mkdir()
        write_words(self._shared, machine, ids)

    def recogniser(
        self, name: str, graph: WordGraph, acoustic: Path | None = None, /, **options: str
    ) -> "Recogniser":
        """A recogniser for one word graph; options replace those of the model's `conf/model.conf`.

        acoustic: another folder whose `am/` is used; it MUST exist as long as the recogniser.
        """
        folder = self._folder / name
        (folder / "graph").mkdir(parents=True)
        (folder / "am").symlink_to(((acoustic or self._model.path) / "am").resolve())
        (folder / "conf").mkdir()
        shutil.copy(self._model.path / "conf" / "mfcc.conf", folder / "conf")
        chosen = self._model.options() | {
            f"--{key.replace('_', '-')}": value for key, value in options.items()
        }
        lines = "".join(f"{key}={value}\n" for key, value in chosen.items())
        (folder / "conf" / "model.conf").write_text(lines, encoding="utf-8")
        for file in self._shared.iterdir():
            (folder / "graph" / file.name).symlink_to(file)
        (folder / "graph" / "Gr.fst").write_bytes(graph.machine(self._ids))
        return Recogniser(folder, self._loaded, self)


class Recogniser:
    """One graph, loaded when it is used. Safe to use from one thread at a time; sounds do not influence each other."""

    def __init__(self, folder: Path, loaded: LoadedGraphs = LAST_USED, owner: object = None) -> None:
        self._folder, self._loaded, self._owner = folder, loaded, owner
        weakref.finalize(self, loaded.forget, folder).atexit = False

    @property
    def model(self) -> Any:  # noqa: ANN401 - the library has no types
        """The loaded Vosk model; raises ModelRefused when Vosk cannot load it."""
        return self._loaded.of(self._folder)

    def best_path(self, samples: Samples) -> BestPath:
        """The best path of the whole sound with the times of its words; an empty text when none was found."""
        return self._paths(samples, 1, placed=True)[0]

    def best_paths(self, samples: Samples, most: int = 1) -> list[BestPath]:
        """The best path and up to `most` - 1 others, best first, as far as the graph's `lattice-beam` keeps them.

        Texts and scores alone: to place the words of each path in time costs more than to find it.
        """
        return self._paths(samples, most, placed=False)

    def placed(self, samples: Samples, text: str, most: int) -> BestPath:
        """The path with this text, one of those that `best_paths` gives, with the times of its words."""
        paths = self._paths(samples, most, placed=True)
        return next((path for path in paths if path.text == text), paths[0])

    def among(self, samples: Samples, sentences: Sequence[str], most: int) -> list[BestPath]:
        """The best paths through the words of a few sentences instead of the graph; every word MUST be in the lexicon.

        Words of different sentences may recombine. Nothing is loaded for it.
        """
        listener = vosk.KaldiRecognizer(self.model, RATE, json.dumps(list(sentences)))
        return self._heard(listener, samples, most, placed=False)

    def _paths(self, samples: Samples, most: int, *, placed: bool) -> list[BestPath]:
        return self._heard(vosk.KaldiRecognizer(self.model, RATE), samples, most, placed=placed)

    def _heard(self, listener: Any, samples: Samples, most: int, *, placed: bool) -> list[BestPath]:  # noqa: ANN401 - the library has no types
        listener.SetMaxAlternatives(most)
        listener.SetWords(enable_words=placed)
        ended = listener.AcceptWaveform(samples.tobytes())
        found = json.loads(listener.Result() if ended else listener.FinalResult())
        return [
            BestPath(
                path["text"].strip(),
                float(path["confidence"]),
                tuple(Word(w["word"], w["start"], w["end"]) for w in path.get("result", ())),
            )
            for path in found["alternatives"]
        ]

    def listener(self) -> Any:  # noqa: ANN401 - the library has no types
        """A recogniser of its own for one stream, fed chunk by chunk. It holds its model, for others to share."""
        model = self.model
        listener = vosk.KaldiRecognizer(model, RATE)
        listener.model = model
        return listener


def at_speed(samples: Samples, faster: float) -> Samples:
    """The same sound played `faster` times as fast, pitch and all."""
    length = int(len(samples) / faster)
    moved = np.interp(np.arange(length) * faster, np.arange(len(samples)), samples)
    return np.asarray(moved, dtype=np.int16)
