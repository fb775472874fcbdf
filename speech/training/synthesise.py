"""One process of clip making: reads sentences with drawn voices and writes shards until its time is up.

    python -m speech.training.synthesise OUT SEED SECONDS ENGINES --vocabulary V.json
        [--programs DIR] [--kokoro DIR] [--device cuda]

ENGINES: names joined by commas out of espeak, flite, hibari, kokoro. A shard is one .npz: `audio` (int16,
16 kHz, clips one after the other), `ends`, `texts`, `engines`.
"""

import argparse
import sys
import time
from pathlib import Path
from typing import Any, Final

import numpy as np

from speech.training.sentences import Sentences, read_vocabulary
from speech.training.voices import Voices, trimmed

_CLIPS_PER_SHARD: Final = {"kokoro": 150}
_USUAL: Final = 400


def _said(words: list[str], chance: np.random.Generator) -> str:
    """The sentence as it is handed to the voice: now and then with a pause in it."""
    if len(words) > 2 and chance.random() < 0.2:
        at = int(chance.integers(1, len(words)))
        return " ".join(words[:at]) + ", " + " ".join(words[at:])
    return " ".join(words)


def _clip(
    engine: str, voices: Voices, words: list[str], chance: np.random.Generator
) -> np.ndarray[Any, Any] | None:
    samples, rate = getattr(voices, engine)(_said(words, chance))
    faster = float(np.exp(chance.normal(0, 0.09))) if chance.random() < 0.7 else 1.0
    return trimmed(samples, rate, min(1.28, max(0.78, faster)))


def _save(path: Path, clips: list[tuple[np.ndarray[Any, Any], str, str]]) -> None:
    half = path.with_suffix(".part.npz")
    np.savez(
        half,
        audio=np.concatenate([clip for clip, _, _ in clips]),
        ends=np.cumsum([len(clip) for clip, _, _ in clips]),
        texts=np.array([text for _, text, _ in clips]),
        engines=np.array([engine for _, _, engine in clips]),
    )
    half.rename(path)


def synthesise(out: Path, seed: int, seconds: float, engines: list[str], options: argparse.Namespace) -> int:
    """Write shards for `seconds`; returns how many clips were made. A voice that fails is named and skipped."""
    chance = np.random.default_rng(seed)
    sentences = Sentences(chance, read_vocabulary(options.vocabulary)[1])
    voices = Voices(chance, options.programs, options.kokoro, options.device)
    until, made, shard = time.monotonic() + seconds, 0, list[tuple[np.ndarray[Any, Any], str, str]]()
    size = min(_CLIPS_PER_SHARD.get(engine, _USUAL) for engine in engines)
    while time.monotonic() < until:
        engine = engines[int(chance.integers(len(engines)))]
        words = sentences()
        try:
            clip = _clip(engine, voices, words, chance)
        except Exception as fault:  # noqa: BLE001 - one failed sentence must not end a run of thousands
            sys.stderr.write(f"{engine}: {fault!r:.200}\n")
            continue
        if clip is None:
            continue
        shard.append((clip, " ".join(words), engine))
        made += 1
        if len(shard) == size:
            _save(out / f"s{seed:04d}_{made:06d}.npz", shard)
            shard = []
    if shard:
        _save(out / f"s{seed:04d}_{made:06d}.npz", shard)
    return made


def main() -> None:
    """The command line of the docstring."""
    parser = argparse.ArgumentParser()
    parser.add_argument("out", type=Path)
    parser.add_argument("seed", type=int)
    parser.add_argument("seconds", type=float)
    parser.add_argument("engines")
    parser.add_argument("--vocabulary", type=Path, required=True)
    parser.add_argument("--programs", type=Path, default=Path())
    parser.add_argument("--kokoro", type=Path)
    parser.add_argument(
        "--device", default="cpu", help="where the Kokoro network runs; on a GPU many times faster"
    )
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    made = synthesise(options.out, options.seed, options.seconds, options.engines.split(","), options)
    sys.stderr.write(f"{made} clips\n")


if __name__ == "__main__":
    main()
