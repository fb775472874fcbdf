"""The kinds of background work, in one table.

Work MUST be idempotent: it is begun again after a worker died.
"""

from service.ports import HEAR_CLIP, READ_PHOTO

PRIORITY = {
    HEAR_CLIP: 0,  # a spoken "stop" waits behind no photo
    READ_PHOTO: 1,
}
"""Smaller goes first; within one priority the oldest does."""
