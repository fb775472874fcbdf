"""Trained weights -> a complete Vosk model folder.

python -m speech.training.export WEIGHTS.pt MODEL_DIR
"""

import sys
from pathlib import Path

import torch

from speech import phones
from speech.training.kaldi_model import write_model
from speech.training.network import Network

_MFCC = """--use-energy=false
--sample-frequency=16000
--num-mel-bins=40
--num-ceps=40
--low-freq=20
--high-freq=7600
--cepstral-lifter=0
--dither=0
--snip-edges=true
"""
_DECODER = """--min-active=200
--max-active=3000
--beam=12.0
--lattice-beam=4.0
--acoustic-scale=1.0
--frame-subsampling-factor=3
--endpoint.silence-phones=1
--endpoint.rule2.min-trailing-silence=0.5
--endpoint.rule3.min-trailing-silence=0.8
--endpoint.rule4.min-trailing-silence=1.5
"""


def export(weights: Path, folder: Path) -> None:
    """Write am/, conf/ and the table of sounds; the word graphs are built where phrases are known."""
    model = Network()
    kept = torch.load(weights, map_location="cpu")
    model.load_state_dict({n: v.float() if v.is_floating_point() else v for n, v in kept.items()})
    write_model(model, folder / "am" / "final.mdl")
    (folder / "conf").mkdir(parents=True, exist_ok=True)
    (folder / "conf" / "mfcc.conf").write_text(_MFCC)
    (folder / "conf" / "model.conf").write_text(_DECODER)
    (folder / "graph").mkdir(exist_ok=True)
    names = "".join(f"{name} {number}\n" for name, number in phones.NUMBERS.items())
    (folder / "graph" / "phones.txt").write_text("<eps> 0\n" + names)


if __name__ == "__main__":
    export(Path(sys.argv[1]), Path(sys.argv[2]))
