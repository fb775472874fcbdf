"""`limitwitness read`: one reading per photo; the reader's own door under this program's name."""

from vision.__main__ import add_arguments, run

__all__ = ["add_arguments", "run"]
