"""Which reader made a reading: its version, and a fingerprint over everything that decides a result."""

import hashlib
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

READER_VERSION = "1.0"

# Drawing, doors and the renderer decide nothing; every other source file of the package does.
_NO_PART = {
    "annotate.py",
    "lettering.py",
    "__main__.py",
    "__init__.py",
    "sameness.py",
    "calibrate.py",
    "render.py",
    "scenes.py",
    "canvas.py",
    "phone.py",
}


@lru_cache(maxsize=1)
def reader_fingerprint() -> str:
    """SHA-256 over the version, the sources and tables, and the versions of the libraries that compute."""
    digest = hashlib.sha256(READER_VERSION.encode())
    for library in ("numpy", "opencv-python-headless", "pillow", "scipy"):
        digest.update(f"{library}=={version(library)}\n".encode())
    folder = Path(__file__).parent
    for path in sorted(folder.iterdir()):
        if path.suffix in {".py", ".json", ".npz", ".onnx"} and path.name not in _NO_PART:
            digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()
