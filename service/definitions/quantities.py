"""Figures with their unit as people write them ("5 mm", "80 ms"), turned into the unit the rules count in.

A figure without unit is refused: 5 could be millimetres or turns an inch. What a unit is worth is left to a
library; which spellings are taken is a short list, since a library that guesses prefixes would read "5 Mm" as
5000 kilometres.
"""

import re
from functools import cache

import pint

from service.domain.refusals import BadDefinition

_FIGURE = re.compile(
    r"\s*(?P<figure>[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d{1,3})?)\s*(?P<unit>\S.{0,30}?)\s*"
)
_SPELLINGS = {
    **dict.fromkeys(("mm", "cm", "m", "in", "inch", "inches", "ft"), ""),
    **dict.fromkeys(("deg", "degree", "degrees", "rad", "turn", "turns"), ""),
    **dict.fromkeys(("s", "ms", "sec", "second", "seconds", "min", "minute", "minutes", "h"), ""),
    **dict.fromkeys(("rpm", "rps", "Hz", "kHz", "rpm/s", "V", "A", "N", "kN", "Nm", "kg"), ""),
    "°": "degree",
    "r/min": "rpm",
    "Nm": "N*m",
    "kN": "kilonewton",
}
"""The spellings that are taken, with the library's own where it differs; some only to say they do not fit."""
_EXAMPLES = {
    "mm": "5 mm",
    "degree": "90 deg",
    "second": "80 ms",
    "revolution / minute": "1400 rpm",
    "revolution / minute / second": "4000 rpm/s",
    "hertz": "50 Hz",
    "inch": "6 in",
    "turn": "0.25 turn",
}


def quantity(value: object, unit: str, field: str) -> float:
    """Return a stated figure in `unit` (one of `_EXAMPLES`).

    Raises
    ------
    BadDefinition
        The unit is missing, unknown, or of another kind than is wanted; the field is named.

    """
    example = _EXAMPLES[unit]
    match = _FIGURE.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise BadDefinition(
            f"{str(value)[:40]!r} is no figure with its unit, such as {example}.", field=field
        )
    spelling = match["unit"]
    if spelling not in _SPELLINGS:
        raise BadDefinition(f"There is no unit {spelling!r}; write it as in {example}.", field=field)
    try:
        stated = _registry().Quantity(float(match["figure"]), _SPELLINGS[spelling] or spelling)
        return float(stated.to(unit).magnitude)
    except pint.DimensionalityError as error:
        raise BadDefinition(
            f"{value!r} does not fit here; wanted is a figure such as {example}.", field=field
        ) from error


@cache
def _registry() -> pint.UnitRegistry[float]:
    return pint.UnitRegistry()
