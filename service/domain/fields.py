"""Whose field is at fault: rules name a figure as they know it, a refusal names it as it stands in the input."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from service.domain.refusals import BadDefinition


@contextmanager
def in_part(name: str, names: Mapping[str, str] | None = None) -> Iterator[None]:
    """Name the part before the field of every refusal inside; `names` gives for a rule's field that of the file."""
    try:
        yield
    except BadDefinition as refusal:
        field = _renamed(refusal.field or "", names or {})
        whole = f"{name}.{field}" if name and field else name or field or None
        raise BadDefinition(refusal.message, field=whole, hint=refusal.hint) from refusal


def _renamed(field: str, names: Mapping[str, str]) -> str:
    for rule, file in names.items():
        if field == rule or field.startswith((f"{rule}.", f"{rule}[")):
            return file + field[len(rule) :]
    return field
