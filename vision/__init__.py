"""Reads cam bars in a photo of a limit switch: angle, state, doubt.

One photo and a switch layout in, one reading out: `Reader(load_layout(path)).read(photo)`. Nothing in here
knows the web, a database or a job; `python -m vision read` is its own door.
"""

from vision.annotate import annotate
from vision.layout import Layout
from vision.layout_file import load_layout
from vision.reader import Reader
from vision.reading import BarReading, Reading, RotorReading
from vision.refusals import LayoutRefusal, PhotoRefusal, VisionRefusal
from vision.version import READER_VERSION, reader_fingerprint

__all__ = [
    "READER_VERSION",
    "BarReading",
    "Layout",
    "LayoutRefusal",
    "PhotoRefusal",
    "Reader",
    "Reading",
    "RotorReading",
    "VisionRefusal",
    "annotate",
    "load_layout",
    "reader_fingerprint",
]
