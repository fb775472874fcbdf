"""`limitwitness hear`: the ear's own door, forwarded."""

from speech.__main__ import add_arguments, run

__all__ = ["add_arguments", "run"]
