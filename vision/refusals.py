"""The reader's own errors: what a photo or a layout is refused for, in words that a technician can act on.

    VisionRefusal
      PhotoRefusal    the photo's bytes cannot be used LayoutRefusal   the switch layout is missing
      something, contradicts itself, or holds a figure that is no number

"Cannot tell" is no error: an unreadable bar or a photo without the switch is a `Reading` with its reason.
"""


class VisionRefusal(Exception):  # noqa: N818 - a refusal is an answer of the reader, not a defect of it
    """An input was refused; `field` names the part at fault as a path ("rotors[0].centre_mm")."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field

    def __str__(self) -> str:
        return f"{self.field}: {self.message}" if self.field else self.message


class PhotoRefusal(VisionRefusal):
    """The photo's bytes cannot be used (empty, torn, not a photo, too large, animated)."""


class LayoutRefusal(VisionRefusal):
    """The switch layout cannot be used."""
