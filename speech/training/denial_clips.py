"""Clips of phrases with their "is" or "are" denied or in another tense: none may be taken for the phrase.

    python -m speech.training.denial_clips OUT SEED CLIPS [--kokoro DIR] [--joe DIR] [--voices NAMES]

Writes what `evaluation_clips.py` writes, in its conditions of one voice. `tests/bench/bench_hearing.py` counts how many
were taken for the plain phrase, as "taken for the dangerous opposite". The words stand in `evaluation_sentences.yaml`
under `instead_of`; voices and conditions take turns.
"""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import soundfile
import yaml

from speech.training.evaluation_clips import CONDITIONS, Drawing, Reader, in_condition, run
from speech.training.voices import RATE

_ONE_VOICE = tuple(condition for condition in CONDITIONS if condition != "overlap")


class Denying:
    """Draws phrases with "is" or "are" and what may stand in its place."""

    def __init__(self, chance: np.random.Generator) -> None:
        self._chance = chance
        listed = yaml.safe_load(Path(__file__).with_name("evaluation_sentences.yaml").read_text())
        self._instead: Mapping[str, Mapping[str, Sequence[str]]] = listed["instead_of"]
        self.drawing = Drawing(chance)

    def one(self) -> None:
        """Adds one sentence of any kind, and the phrase that it must not be taken for."""
        kind = str(self._chance.choice(list(self._instead)))
        places: list[int] = []
        while not places:
            words = self.drawing.statement().split()
            places = [
                at for at, word in enumerate(words) if word in self._instead[kind] and "not" not in words
            ]
        at, plain = places[0], " ".join(words)
        choices = self._instead[kind][words[at]]
        instead = choices[int(self._chance.integers(len(choices)))]
        self.drawing.add(" ".join([*words[:at], instead, *words[at + 1 :]]), kind, plain)
        if plain not in self.drawing.found:
            self.drawing.add(plain, "danger")


def make(out: Path, seed: int, clips: int, reader: Reader, voices: Sequence[str]) -> None:
    """Write the whole set, each sentence once."""
    chance = np.random.default_rng(seed)
    out.mkdir(parents=True, exist_ok=True)
    denying = Denying(chance)
    for _ in range(clips):
        denying.one()
    lines = [{**line, "id": f"d{at:03d}"} for at, line in enumerate(denying.drawing.found.values())]
    (out / "phrases.jsonl").write_text("".join(json.dumps(line) + "\n" for line in lines))
    with (out / "manifest.jsonl").open("w") as manifest:
        for at, line in enumerate(line for line in lines if line["kind"] != "danger"):
            voice = voices[at % len(voices)]
            condition = _ONE_VOICE[(at // len(voices)) % len(_ONE_VOICE)]
            samples = in_condition(chance, reader(voice, line["text"]), condition, np.ones(1))
            name = f"{line['id']}_{voice}_{condition}.ogg"
            soundfile.write(out / name, samples, RATE, format="OGG", subtype="OPUS")
            manifest.write(json.dumps({"file": name, **line, "voice": voice, "condition": condition}) + "\n")


if __name__ == "__main__":
    run(make)
