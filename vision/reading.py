"""The reading of one photo: what was seen, per bar, rotor and contact, with its doubt and its reasons.

"Cannot tell" is a value here: a photo that cannot be used gives a `Reading` with the verdict "refused", and
a bar that cannot be told has the state "unreadable". Angles are in the plan's frame, modulo 180 degrees.
"""

from dataclasses import dataclass, field
from typing import Any, Literal

from vision.camera import Camera

BarState = Literal["along", "across", "between", "unreadable"]
RotorState = Literal["legal", "between", "impossible", "unreadable"]
Contact = Literal["closed", "open", "unknown"]
WayUp = Literal["tags", "structure", "tap", "not told", "too few rotors"]


@dataclass(frozen=True)
class BarReading:
    """One bar. `angle_deg` and `sigma_deg` are None where nothing was measured; `p_along` is calibrated."""

    rotor: str
    bar: str
    angle_deg: float | None
    sigma_deg: float | None
    state: BarState
    p_along: float

    def to_json(self) -> dict[str, Any]:
        """Return the bar's part of the reading."""
        return {
            "rotor": self.rotor,
            "bar": self.bar,
            "angle_deg": _rounded(self.angle_deg, 2),
            "sigma_deg": _rounded(self.sigma_deg, 2),
            "state": self.state,
            "p_along": round(self.p_along, 4),
        }


@dataclass(frozen=True)
class RotorReading:
    """One rotor; `reason` is empty for a legal rotor, else a sentence that a technician can act on."""

    id: str
    state: RotorState
    reason: str
    upper: BarReading
    lower: BarReading
    centre_mm: tuple[float, float] | None = None

    @property
    def bars(self) -> tuple[BarReading, BarReading]:
        """Both bars, the upper first."""
        return (self.upper, self.lower)


@dataclass(frozen=True)
class Reading:
    """What the reader saw in one photo.

    Attributes
    ----------
    file, layout : str
        Name as given, and the layout's id.
    verdict : "read" or "refused"
    reason : str
        Why it was refused; for a reading, notes on the photo (turned, reduced, grey).
    method : str
        How the switch was found: "tags", "tags and structure", "structure" or "none".
    rms_px : float or None
        Root mean square of the registration's residuals, pixels of the shown photo.
    way_up, upper_edge : str
        What told which way up the switch is seen (its tags, its structure, a person's tap, nothing; nothing can
        where fewer than two rotors are sure), and which edge of the switch is the upper one, in words.
    camera : Camera or None
        For drawing; pixels of the shown photo divided by `scale`.

    """

    file: str
    layout: str
    verdict: Literal["read", "refused"]
    reason: str
    method: str = "none"
    rms_px: float | None = None
    rotors: tuple[RotorReading, ...] = ()
    contacts: dict[str, Contact] = field(default_factory=dict)
    decode_ms: float = 0.0
    total_ms: float = 0.0
    camera: Camera | None = None
    scale: float = 1.0
    way_up: WayUp = "not told"
    upper_edge: str = ""

    @property
    def bars(self) -> tuple[BarReading, ...]:
        """All bars in the layout's order."""
        return tuple(bar for rotor in self.rotors for bar in rotor.bars)

    def to_json(self) -> dict[str, Any]:
        """Return the object that `read --json` prints, one a photo."""
        return {
            "file": self.file,
            "layout": self.layout,
            "verdict": self.verdict,
            "reason": self.reason,
            "registration": {
                "method": self.method,
                "rms_px": _rounded(self.rms_px, 2),
                "way_up": self.way_up if self.method != "none" else None,
                "upper_edge": self.upper_edge or None,
            },
            "rotors": [{"id": r.id, "state": r.state, "reason": r.reason} for r in self.rotors],
            "bars": [bar.to_json() for bar in self.bars],
            "contacts": dict(self.contacts),
            "ms": {"decode": round(self.decode_ms, 1), "total": round(self.total_ms, 1)},
        }


def refused(file: str, layout: str, reason: str, *, decode_ms: float = 0.0, total_ms: float = 0.0) -> Reading:
    """Make a reading that says why nothing was read."""
    return Reading(file, layout, "refused", reason, decode_ms=decode_ms, total_ms=total_ms)


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None or value != value else round(value, digits)  # noqa: PLR0124 - nan is not itself
