"""Plain checks on numbers that people hand in: finite, positive, a share; the field at fault is named."""

import math

from service.domain.refusals import BadDefinition


def finite(value: float, field: str, what: str) -> float:
    """Return the value if it is a finite number; raises BadDefinition naming `field` and `what` otherwise."""
    if not math.isfinite(value):
        raise BadDefinition(f"{what} is {value:g}, not a finite number.", field=field)
    return value


def above_zero(value: float, field: str, what: str) -> float:
    """Return the value if it is finite and more than zero; raises BadDefinition otherwise."""
    if not (math.isfinite(value) and value > 0):
        raise BadDefinition(f"{what} is {value:g}; it is more than zero.", field=field)
    return value


def above_zero_up_to(value: float, most: float, field: str, what: str) -> float:
    """Return the value if it is more than zero and at most `most`; raises BadDefinition otherwise.

    The bound is beyond any real drive: it keeps an absurd figure from becoming an infinite or endless result.
    """
    above_zero(value, field, what)
    if not 1.0 / most <= value <= most:
        raise BadDefinition(f"{what} is {value:g}, beyond any real drive.", field=field)
    return value


def zero_or_more(value: float, field: str, what: str) -> float:
    """Return the value if it is finite and not negative; raises BadDefinition otherwise."""
    if not (math.isfinite(value) and value >= 0):
        raise BadDefinition(f"{what} is {value:g}; it is zero or more.", field=field)
    return value


def within(value: float, low: float, high: float, field: str, what: str) -> float:
    """Return the value if it lies in [low, high]; raises BadDefinition otherwise."""
    if not (math.isfinite(value) and low <= value <= high):
        raise BadDefinition(f"{what} is {value:g}, outside {low:g} to {high:g}.", field=field)
    return value
