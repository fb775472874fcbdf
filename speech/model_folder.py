"""The acoustic model: a Vosk model folder, ours or any other, checked before it is loaded."""

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

from speech import phones
from speech.refusals import ModelRefused

SHIPPED: Final = Path(__file__).parent / "model"
_NEEDED: Final = ("am/final.mdl", "conf/mfcc.conf", "conf/model.conf")
_MARK: Final = b"\0B<TransitionModel> "


@dataclass(frozen=True)
class ModelFolder:
    """A Vosk model folder. `ours`: it knows the sounds of `speech.phones`, so exact graphs can be built."""

    path: Path
    ours: bool

    def options(self) -> dict[str, str]:
        """The decoder options of `conf/model.conf` by name."""
        lines = (self.path / "conf" / "model.conf").read_text(encoding="utf-8").split()
        return dict(line.split("=", 1) for line in lines if "=" in line)


def open_model(folder: str | Path | None = None) -> ModelFolder:
    """The folder (default: the shipped model) as a checked model; raises ModelRefused when it is none."""
    path = Path(folder) if folder is not None else SHIPPED
    if not path.is_dir():
        raise ModelRefused(f"{path} is not a folder")
    for name in _NEEDED:
        if not (path / name).is_file():
            raise ModelRefused(f"{path} is not a Vosk model: it has no {name}")
    with (path / "am" / "final.mdl").open("rb") as acoustic:
        if acoustic.read(len(_MARK)) != _MARK:
            raise ModelRefused(f"{path} is not a Vosk model: am/final.mdl does not begin like one")
    table = path / "graph" / "phones.txt"
    named = table.read_text(encoding="utf-8").split()[2::2] if table.is_file() else []
    ours = named == phones.NAMES
    if not ours and not any((path / "graph" / name).is_file() for name in ("HCLr.fst", "HCLG.fst")):
        raise ModelRefused(f"{path} is not a Vosk model: it has no graph/HCLr.fst")
    return ModelFolder(path, ours)


@lru_cache(maxsize=8)
def _digest(path: Path, changed: tuple[tuple[str, int, int], ...]) -> str:
    total = hashlib.sha256()
    for name, size, _ in changed:
        total.update(f"{name}\0{size}\0".encode() + hashlib.sha256((path / name).read_bytes()).digest())
    return total.hexdigest()


def model_fingerprint(folder: str | Path | None = None) -> str:
    """SHA-256 over the names and contents of every file of the model, in hex."""
    path = open_model(folder).path
    files = sorted(file for file in path.rglob("*") if file.is_file() and file.suffix != ".md")
    stamps = ((str(f.relative_to(path)), f.stat().st_size, f.stat().st_mtime_ns) for f in files)
    return _digest(path, tuple(stamps))
