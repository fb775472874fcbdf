"""Stem threads: designation, lead, basic geometry, and whether diameter and pitch are a published pair.

The stem moves one lead a turn, and lead = pitch x starts (ISO 2901 to 2904 for trapezoidal threads). A
diameter alone never fixes the pitch, so a lead is read from the designation or measured, never looked up. A
pair outside the published selections deserves a question, not a refusal: valves with special stems exist.
"""

import math
import re
from dataclasses import dataclass
from typing import Literal

from service.domain.figures import above_zero
from service.domain.refusals import BadDefinition

Form = Literal["trapezoidal", "acme"]
INCH_MM = 25.4

_TRAPEZOIDAL_PITCHES_MM: dict[int, tuple[float, ...]] = {
    8: (1.5,), 9: (1.5, 2), 10: (1.5, 2), 11: (2, 3), 12: (2, 3), 14: (2, 3), 16: (2, 3, 4), 18: (2, 3, 4),
    20: (2, 3, 4), 22: (3, 5, 8), 24: (3, 5, 8), 26: (3, 5, 8), 28: (3, 5, 8), 30: (3, 6, 10), 32: (3, 6, 10),
    34: (3, 6, 10), 36: (3, 6, 10), 38: (3, 7, 10), 40: (3, 7, 10), 42: (3, 7, 10), 44: (3, 7, 12),
    46: (3, 8, 12), 48: (3, 8, 12), 50: (3, 8, 12), 52: (3, 8, 12), 55: (3, 9, 14), 60: (3, 9, 14),
    65: (4, 10, 16), 70: (4, 10, 16), 75: (4, 10, 16), 80: (4, 10, 16), 85: (4, 12, 18), 90: (4, 12, 18),
    95: (4, 12, 18), 100: (4, 12, 20),
}  # fmt: skip
"""Diameter to pitches in mm, from the selection of ISO 2904 as public part libraries hold it."""

_ACME_THREADS_PER_INCH: dict[float, tuple[float, ...]] = {
    0.25: (16,), 0.3125: (14,), 0.375: (12,), 0.5: (10,), 0.625: (8,), 0.75: (6,), 0.875: (6,), 1.0: (5,),
    1.125: (5,), 1.25: (5,), 1.5: (4,), 1.75: (4,), 2.0: (4,), 2.5: (3,), 3.0: (2,),
}  # fmt: skip
"""Diameter in inches to threads per inch: general-purpose pairs of ASME B1.5 in public part libraries."""

_TRAPEZOIDAL = re.compile(
    r"Tr\s*(?P<d>\d+(?:\.\d+)?)\s*[x\u00d7]\s*(?P<lead>\d+(?:\.\d+)?)"
    r"(?:\s*\(?\s*P\s*(?P<pitch>\d+(?:\.\d+)?)\s*\)?)?\s*(?P<left>LH)?",
    re.IGNORECASE,
)
_ACME = re.compile(
    r"(?:(?P<whole>\d+)\s+)?(?P<d>\d+/\d+|\d+(?:\.\d+)?)\s*-\s*(?P<tpi>\d+(?:\.\d+)?)\s*ACME"
    r"(?:\s+(?P<starts>\d)\s*starts?)?\s*(?P<left>LH)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Thread:
    """A stem thread: nominal diameter and pitch in mm, number of starts, hand.

    Raises
    ------
    BadDefinition
        Diameter or pitch is not more than zero, or there is no start.

    """

    form: Form
    diameter_mm: float
    pitch_mm: float
    starts: int = 1
    left_hand: bool = False

    def __post_init__(self) -> None:
        above_zero(self.diameter_mm, "thread.diameter_mm", "The diameter of the thread in mm")
        above_zero(self.pitch_mm, "thread.pitch_mm", "The pitch of the thread in mm")
        above_zero(self.starts, "thread.starts", "The number of starts of the thread")

    @property
    def lead_mm(self) -> float:
        """Stem travel in mm for one turn: pitch x starts."""
        return self.pitch_mm * self.starts

    @property
    def pitch_diameter_mm(self) -> float:
        """Basic pitch diameter in mm of a 30 degree trapezoidal or 29 degree Acme profile: d - P/2."""
        return self.diameter_mm - self.pitch_mm / 2

    @property
    def minor_diameter_mm(self) -> float:
        """Basic minor diameter in mm, clearance left out: d - P."""
        return self.diameter_mm - self.pitch_mm

    @property
    def threads_per_inch(self) -> float:
        """Threads per inch: 25.4 mm over the pitch."""
        return INCH_MM / self.pitch_mm


def thread_of(designation: str) -> Thread:
    """Return the thread of a designation such as "Tr 60x18(P9)LH" or "1.5-4 ACME".

    Examples
    --------
    >>> thread_of("Tr 60x18(P9)LH").starts
    2
    >>> thread_of("1.5-4 ACME").lead_mm
    6.35

    Raises
    ------
    BadDefinition
        The text is no designation of these forms, or its lead is no whole number of pitches.

    """
    text = designation.strip()
    if match := _TRAPEZOIDAL.fullmatch(text):
        return _trapezoidal(match, text)
    if match := _ACME.fullmatch(text):
        diameter = int(match["whole"] or 0) + _inches(match["d"])
        per_inch = above_zero(float(match["tpi"]), "thread", "The number of threads per inch")
        return Thread(
            "acme",
            diameter * INCH_MM,
            INCH_MM / per_inch,
            int(match["starts"] or 1),
            match["left"] is not None,
        )
    raise BadDefinition(
        f"{text[:40]!r} is no thread designation such as Tr 60x18(P9)LH or 1.5-4 ACME.", field="thread"
    )


def question_about(thread: Thread) -> str | None:
    """Return a sentence where the pair of diameter and pitch is in no published selection, else None."""
    if thread.form == "trapezoidal":
        known: tuple[float, ...] = _TRAPEZOIDAL_PITCHES_MM.get(round(thread.diameter_mm), ())
        if not math.isclose(thread.diameter_mm, round(thread.diameter_mm)):
            known = ()
        shown, unit = thread.pitch_mm, "mm pitch"
    else:
        size = thread.diameter_mm / INCH_MM
        known = next((tpi for key, tpi in _ACME_THREADS_PER_INCH.items() if math.isclose(key, size)), ())
        shown, unit = thread.threads_per_inch, "threads per inch"
    if any(math.isclose(shown, each, rel_tol=1e-6) for each in known):
        return None
    listed = (
        f"the published selection has {', '.join(f'{each:g}' for each in known)}"
        if known
        else "no such size is listed"
    )
    return (
        f"{thread.form.capitalize()} {thread.diameter_mm:g} mm with {shown:g} {unit}: {listed}. "
        "Measure the lead on the stem."
    )


def opening_sense_of_nut(thread: Thread) -> Literal["clockwise", "counter-clockwise"]:
    """Return the sense, seen from above, in which a nut that turns but stays in place raises its stem.

    A right-hand nut turned clockwise from above raises the stem. This is what the construction makes likely;
    which sense closes the valve is proved on the stem, never assumed.
    """
    return "counter-clockwise" if thread.left_hand else "clockwise"


def _trapezoidal(match: re.Match[str], text: str) -> Thread:
    lead = above_zero(float(match["lead"]), "thread", "The lead of the thread in mm")
    pitch = above_zero(float(match["pitch"] or lead), "thread", "The pitch of the thread in mm")
    starts = round(lead / pitch)
    if starts < 1 or not math.isclose(starts * pitch, lead):
        raise BadDefinition(
            f"{text}: a lead of {lead:g} mm is no whole number of pitches of {pitch:g} mm.", field="thread"
        )
    return Thread("trapezoidal", float(match["d"]), pitch, starts, match["left"] is not None)


def _inches(text: str) -> float:
    top, _, bottom = text.partition("/")
    return float(top) / above_zero(float(bottom), "thread", "The size in inches") if bottom else float(top)
