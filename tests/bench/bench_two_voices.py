"""Mixes clips of different voices and prints what was taken from two people who spoke at once.

    python -m tests.bench.bench_two_voices FOLDER [--mixes N] [--model DIR]

FOLDER as for `bench_hearing`; its clean clips in grammar are mixed, each with one of another voice, in turn equally
loud, 3 dB and 6 dB weaker. `first` and `other`: the meaning of one of the two was taken; `turned`: the dangerous
opposite of the first; `wrong`: what neither said; nothing is asserted here.
"""

import argparse
import json
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

import numpy as np

from speech.audio import load_clip
from speech.hearing import Hearer, Hearing
from speech.phrase import Meaning, load_phrases
from speech.recogniser import Samples

WEAKER_DB = (0, 3, 6)


def mixed(first: Samples, other: Samples, weaker_db: float, at: float) -> Samples:
    """Both sounds at once, the other so much weaker, begun at the share `at` of the time by which they differ."""
    sounds = [sound.astype(np.float64) for sound in (first, other)]
    sounds[1] *= np.sqrt(np.mean(sounds[0] ** 2) / np.mean(sounds[1] ** 2)) * 10 ** (-weaker_db / 20)
    both = np.zeros(max(map(len, sounds)))
    for sound in sounds:
        begin = int(at * (len(both) - len(sound)))
        both[begin : begin + len(sound)] += sound
    return (both * min(1.0, 30_000 / np.abs(both).max())).astype(np.int16)


def _key(meaning: dict[str, Any] | None) -> str | None:
    return Meaning(meaning["intent"], meaning["slots"]).key() if meaning else None


def verdict_of(first: dict[str, Any], other: dict[str, Any], heard: Hearing) -> str:
    """One word: first, other, turned, wrong, voices (refused for two voices), refused."""
    if heard.verdict != "heard" or heard.intent is None:
        return "voices" if heard.kind == "voices" else "refused"
    got = Meaning(heard.intent, heard.slots).key()
    if got in (_key(first["meaning"]), _key(other["meaning"])):
        return "first" if got == _key(first["meaning"]) else "other"
    return "turned" if got == _key(first.get("danger")) else "wrong"


def main() -> None:
    """The command line of the docstring."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--mixes", type=int, default=300)
    parser.add_argument("--model", type=Path)
    options = parser.parse_args()
    lines = map(json.loads, (options.folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines())
    clean = [line for line in lines if line["condition"] == "clean" and line["in_grammar"]]
    hearer = Hearer(load_phrases(options.folder / "phrases.jsonl"), options.model)
    chance, rows = np.random.default_rng(1), defaultdict[int, Counter[str]](Counter)
    for number in range(options.mixes):
        first = clean[chance.integers(len(clean))]
        others = [c for c in clean if c["voice"] != first["voice"] and c["text"] != first["text"]]
        other = others[chance.integers(len(others))]
        weaker = WEAKER_DB[number % len(WEAKER_DB)]
        one, two = (load_clip((options.folder / c["file"]).read_bytes()).samples for c in (first, other))
        heard = hearer.hear_samples(mixed(one, two, weaker, chance.random()))
        verdict = verdict_of(first, other, heard)
        rows[weaker][verdict] += 1
        if verdict in ("turned", "wrong"):
            print(f"{verdict}: {first['text']!r} with {other['text']!r} {weaker} dB weaker: {heard.text!r}")
    for weaker, counts in sorted(rows.items()):
        print(f"other voice {weaker} dB weaker, {sum(counts.values())} mixes: {dict(counts.most_common())}")


if __name__ == "__main__":
    main()
