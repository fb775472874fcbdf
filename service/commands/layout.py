"""`limitwitness layout`: a switch layout from one straight photo; the reader's own door under this program's name."""

from vision.layout_door import add_arguments, run

__all__ = ["add_arguments", "run"]
