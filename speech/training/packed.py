"""Shards as Ogg/Opus with their texts beside them, a tenth of the size: for carrying clips elsewhere.

    python -m speech.training.packed pack SHARDS OUT
    python -m speech.training.packed unpack PACKED SHARDS

The codec's loss is no harm: phones send Opus.
"""

import json
import sys
from pathlib import Path

import numpy as np
import soundfile

_RATE = 16_000


def pack(shards: Path, out: Path) -> None:
    """Every shard as one Ogg/Opus file and one JSON file."""
    out.mkdir(parents=True, exist_ok=True)
    for path in sorted(shards.glob("*.npz")):
        if path.stem.endswith(".part") or (out / f"{path.stem}.json").exists():
            continue
        shard = np.load(path)
        soundfile.write(
            out / f"{path.stem}.ogg",
            shard["audio"],
            _RATE,
            format="OGG",
            subtype="OPUS",
            compression_level=0.92,
        )
        told = {name: shard[name].tolist() for name in ("ends", "texts", "engines")}
        (out / f"{path.stem}.json").write_text(json.dumps(told))


def unpack(packed: Path, shards: Path) -> None:
    """The shards again, cut or filled to their exact length."""
    shards.mkdir(parents=True, exist_ok=True)
    for told in sorted(packed.glob("*.json")):
        shard = json.loads(told.read_text())
        audio, _ = soundfile.read(told.with_suffix(".ogg"), dtype="int16")
        length = shard["ends"][-1]
        audio = np.pad(audio[:length], (0, max(0, length - len(audio))))
        np.savez(
            shards / f"{told.stem}.npz",
            audio=audio,
            ends=shard["ends"],
            texts=shard["texts"],
            engines=shard["engines"],
        )


if __name__ == "__main__":
    {"pack": pack, "unpack": unpack}[sys.argv[1]](Path(sys.argv[2]), Path(sys.argv[3]))
