"""The acoustic model for words while they are still spoken: the same weights, looking less far ahead.

A live word waits until the network has seen all that it looks at behind a frame: 0.48 s with the shipped model. Some
layers add up three frames: one before, one at and one behind. In the copy made here three of those that look farthest
take the frame itself for the one behind it (its weights are added to the middle ones), which saves 60 ms each. Nearly
the same words are recognised (figures: training/README.md), and nothing is decided by them.

Layout of the file: training/kaldi_model.py.
"""

import re
import struct
import tempfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np

from speech.model_folder import ModelFolder

SHORTENED: Final = 3
_THREE: Final = re.compile(
    rb"(?P<kept>component-node name=\S+ component=(?P<name>\S+) "
    rb"input=Append\(Offset\((?P<of>\S+), -(?P<away>\d+)\), (?P=of)), "
    rb"Offset\((?P=of), (?P=away)\)\)"
)
_CONTEXT: Final = b"<RightContext> \x04"
_PACKED: Final = b"CM2 "


@dataclass(frozen=True)
class Sooner:
    """The model that looks less far ahead. Its files are gone when nobody holds this any more."""

    model: ModelFolder
    kept: tempfile.TemporaryDirectory[str]


@lru_cache(maxsize=2)
def sooner(model: ModelFolder) -> Sooner:
    """A copy of the acoustic model of `model` for live words; what else a model has is not in it."""
    kept = tempfile.TemporaryDirectory(prefix="hearing-")
    folder = Path(kept.name)
    (folder / "am").mkdir()
    shorter = looking_less_far((model.path / "am" / "final.mdl").read_bytes())
    (folder / "am" / "final.mdl").write_bytes(shorter)
    return Sooner(ModelFolder(folder, model.ours), kept)


def looking_less_far(raw: bytes, layers: int = SHORTENED) -> bytes:
    """The bytes of a `final.mdl` with that many layers shortened; as they are, where it has not so many of them."""
    found = sorted(_THREE.finditer(raw), key=lambda one: -int(one["away"]))[:layers]
    if len(found) < layers or _CONTEXT not in raw:
        return raw
    saved = sum(int(one["away"]) for one in found)
    for one in found:
        raw = _folded(raw.replace(one[0], one["kept"] + b")"), one["name"])
    at = raw.index(_CONTEXT) + len(_CONTEXT)
    (context,) = struct.unpack_from("<i", raw, at)
    return raw[:at] + struct.pack("<i", context - saved) + raw[at + 4 :]


def _folded(raw: bytes, name: bytes) -> bytes:
    """The last third of a layer's columns added to the middle third, in 16 bits as before."""
    mark = b"<LinearParams> " + _PACKED
    at = raw.index(mark, raw.index(b"<ComponentName> " + name + b" ")) + len(mark)
    low, span, rows, columns = struct.unpack_from("<ffii", raw, at)
    begin, third = at + 16, columns // 3
    steps = np.frombuffer(raw, "<u2", rows * columns, begin).reshape(rows, columns)
    weights = low + span * steps.astype(np.float64) / 65_535
    weights[:, third : 2 * third] += weights[:, 2 * third :]
    weights = weights[:, : 2 * third]
    low, span = weights.min(), np.ptp(weights)
    packed = np.rint((weights - low) / span * 65_535).astype("<u2").tobytes()
    head = struct.pack("<ffii", low, span, rows, 2 * third)
    return b"".join((raw[:at], head, packed, raw[begin + 2 * rows * columns :]))
