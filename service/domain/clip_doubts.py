"""What whoever recorded a clip knows against it: such a clip may restrict, and permits nothing.

A stream knows more of an utterance than its sound shows. What it says of it travels with the clip, so that the
clip counts for no more when it is heard again, by whomever.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from service.domain.entries import Entry

DOUBTS: Mapping[str, str] = MappingProxyType(
    {
        "over_own_voice": "It was said while the device itself was speaking.",
        "cut_short": "The sound ends right at its words: what would have followed is not known.",
        "cut_in": "The sound begins right at its words: what went before is not known.",
        "went_before": "Other words went right before it, which may have taken it back: say it again by itself.",
        "went_on": "The speaker went on with words that are no phrase.",
    }
)
"""Each doubt by its word, with the sentence that says why nothing came of the clip."""


def why_in_doubt(entry: Entry) -> str | None:
    """Return why a clip permits nothing, in words; None where nothing is known against it.

    A doubt that this program does not know counts like one that it knows.
    """
    stated: Any = entry.body.get("doubts")
    if not isinstance(stated, list | tuple) or not stated:
        return None
    return DOUBTS.get(str(stated[0]), "The device that recorded it doubted it.")
