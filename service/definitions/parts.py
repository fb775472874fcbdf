"""Parts of a definition file: a file that another one names, or the same held in its place.

A valve file names its chart and a chart its layout. In the place of the name the whole part may stand, so that one
document needs no folder: what an outside program sends, and what `--as-one` prints.
"""

from collections.abc import Callable, Mapping
from typing import Any

from service.definitions.documents import read_document
from service.domain.fields import in_part
from service.domain.refusals import BadDefinition

Beside = Callable[[str, str], bytes]
"""Returns the bytes of the file of that name beside the one that names it; the second word is the field that does."""


def nothing_beside(name: str, field: str) -> bytes:
    """Refuse a named file where there are none; raises BadDefinition."""
    raise BadDefinition(f"There is no file {name[:60]} here: hold its content in this place.", field=field)


def part_of(document: Mapping[str, Any], field: str, what: str, beside: Beside) -> dict[str, Any]:
    """Return the part of a document that a field holds or names.

    Raises
    ------
    BadDefinition
        The file that is named cannot be had, or cannot be read.

    """
    held = document[field]
    if isinstance(held, dict):
        return held
    content = beside(str(held), field)
    with in_part(field):
        return read_document(content, what)
