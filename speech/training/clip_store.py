"""The made clips on the training device: sound end to end, the sounds of each sentence, draws by engine.

Reads shards (`synthesise.py`) as they appear, and folders of compressed clips (`packed.py`).
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import torch

from speech.phones import SOUNDS

_SILENCE, _FILLER = 0, 1
_FILLER_SHARE: Final = 0.05
_SECOND_SHARE: Final = 0.2
_LEAST: Final = 2_400
Array = np.ndarray[Any, Any]


@dataclass
class Drawn:
    """What a batch needs of its clips: place in the store, sounds, which of them are optional, how many."""

    start: Array
    length: Array
    sounds: Array
    optional: Array
    count: Array


@dataclass
class ClipStore:
    """All clips read so far. `shares`: how often each engine is drawn."""

    pronunciations: Mapping[str, Sequence[Sequence[str]]]
    shares: Mapping[str, float]
    chance: np.random.Generator
    device: str
    audio: torch.Tensor = field(init=False)
    starts: list[int] = field(default_factory=list)
    lengths: list[int] = field(default_factory=list)
    engines: list[str] = field(default_factory=list)
    labels: list[tuple[Array, Array]] = field(default_factory=list)
    seen: set[Path] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.audio = torch.zeros(0, dtype=torch.int16, device=self.device)
        self._numbers = {name: number for number, name in enumerate(SOUNDS)}
        self._draws = np.zeros(0)

    def refresh(self, folder: Path) -> bool:
        """Take in the shards that are new in `folder`; True when there were any."""
        fresh = [
            p for p in sorted(folder.rglob("*.npz")) if p not in self.seen and not p.stem.endswith(".part")
        ]
        sounds, base = [], len(self.audio)
        for path in fresh:
            self.seen.add(path)
            shard = np.load(path)
            begin = 0
            for end, text, engine in zip(shard["ends"], shard["texts"], shard["engines"], strict=True):
                self._take(base + begin, int(end) - begin, str(text), str(engine))
                begin = int(end)
            sounds.append(torch.from_numpy(shard["audio"]))
            base += begin
        if sounds:
            self.audio = torch.cat([self.audio, *(s.to(self.device) for s in sounds)])
            self._weigh()
        return bool(sounds)

    def _take(self, start: int, length: int, text: str, engine: str) -> None:
        words = text.split()
        if length < _LEAST or any(word not in self.pronunciations for word in words):
            return
        self.starts.append(start)
        self.lengths.append(length)
        self.engines.append(engine)
        self.labels.append(self._labelled(words))

    def _labelled(self, words: list[str]) -> tuple[Array, Array]:
        """Sounds of the words with an optional silence between them; now and then one word as filler."""
        hidden = int(self.chance.integers(len(words))) if self.chance.random() < _FILLER_SHARE else -1
        sounds, optional = [_SILENCE], [False]
        for index, word in enumerate(words):
            if index:
                sounds.append(_SILENCE)
                optional.append(True)
            ways = self.pronunciations[word]
            way = (
                ways[0]
                if self.chance.random() > _SECOND_SHARE
                else ways[int(self.chance.integers(len(ways)))]
            )
            said = [_FILLER] if index == hidden else [self._numbers[sound] for sound in way]
            sounds += said
            optional += [False] * len(said)
        return np.array([*sounds, _SILENCE]), np.array([*optional, False])

    def _weigh(self) -> None:
        """Engines by their shares; within one, long clips a little more often than short ones."""
        engines, lengths = np.array(self.engines), np.sqrt(np.array(self.lengths, float))
        weights = np.zeros(len(engines))
        for engine, share in self.shares.items():
            mine = engines == engine
            if mine.any():
                weights[mine] = share * lengths[mine] / lengths[mine].sum()
        self._draws = np.cumsum(weights / weights.sum())

    def hours(self) -> dict[str, float]:
        """Hours of sound by engine."""
        engines, lengths = np.array(self.engines), np.array(self.lengths)
        return {
            e: round(float(lengths[engines == e].sum()) / 57_600_000, 2) for e in sorted(set(self.engines))
        }

    def batches(self, size: int, pool: int = 16, *, part: int = 0, parts: int = 1) -> Iterator[Drawn]:
        """`pool` batches of clips of like length, in random order; of each draw the `part`-th of `parts`."""
        drawn = np.minimum(
            np.searchsorted(self._draws, self.chance.random(size * parts * pool)), len(self.starts) - 1
        )
        lengths = np.array(self.lengths)[drawn]
        drawn = drawn[np.argsort(lengths + self.chance.normal(0, 3_000, len(drawn)))]
        for row in drawn.reshape(pool, size * parts)[self.chance.permutation(pool)]:
            yield self._batch(row[part::parts])

    def _batch(self, row: Array) -> Drawn:
        labels = [self.labels[i] for i in row]
        longest = -(-max(len(sounds) for sounds, _ in labels) // 16) * 16
        sounds, optional = np.zeros((len(row), longest), np.int64), np.zeros((len(row), longest), bool)
        for place, (said, free) in enumerate(labels):
            sounds[place, : len(said)], optional[place, : len(free)] = said, free
        count = np.array([len(said) for said, _ in labels])
        return Drawn(np.array(self.starts)[row], np.array(self.lengths)[row], sounds, optional, count)


def phone_bigram(store: ClipStore, sentences: int = 20_000) -> tuple[Array, Array, Array]:
    """Shares of sound after sound, and log shares of the first and of ending, smoothed by the plain shares."""
    count = len(SOUNDS)
    pairs, first, last = (np.full(shape, 0.01) for shape in ((count, count), count, count))
    for _ in range(min(sentences, len(store.labels))):
        sounds, optional = store.labels[int(store.chance.integers(len(store.labels)))]
        kept = sounds[~optional | (store.chance.random(len(sounds)) < 0.35)]
        kept = kept[1:-1] if store.chance.random() < 0.1 else kept
        first[kept[0]] += 1
        last[kept[-1]] += 1
        np.add.at(pairs, (kept[:-1], kept[1:]), 1)
    plain = pairs.sum(0) / pairs.sum()
    ending = last / (last + pairs.sum(1))
    bigram = (0.9 * pairs / pairs.sum(1, keepdims=True) + 0.1 * plain) * (1 - ending)[:, None]
    return bigram, np.log(first / first.sum()), np.log(ending)


def read_pronunciations(path: Path) -> dict[str, list[list[str]]]:
    """The pronunciations of a vocabulary file."""
    return dict(json.loads(path.read_text())["pronunciations"])
