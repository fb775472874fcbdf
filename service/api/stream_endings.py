"""Why a stream ends: a close code of RFC 6455 (7.4.1) and a reason that names the limit."""

from service.domain.refusals import BadMedia, Refusal, TooBusy

NORMAL = 1000
NOT_SOUND = 1003
NOT_TEXT = 1007
AGAINST_RULES = 1008
TOO_LARGE = 1009
DEFECT = 1011
LATER = 1013

MOST_REASON = 123
"""Bytes of a reason: a control frame holds 125, two of them are the code (RFC 6455, 5.5)."""


class StreamEnds(Exception):  # noqa: N818 - how a stream ends is no defect
    """A stream ends with this code, for this reason; `refusal` is told in a message before it, where there is one."""

    def __init__(self, code: int, reason: str = "", refusal: Refusal | None = None) -> None:
        super().__init__(reason)
        self.code, self.reason, self.refusal = code, reason, refusal

    @property
    def shown(self) -> str:
        """The reason, cut to what a closing message can hold."""
        return self.reason.encode()[:MOST_REASON].decode(errors="ignore")


class DeviceGone(StreamEnds):
    """The device closed the stream, or vanished."""


def ending_of(refusal: Refusal) -> StreamEnds:
    """Return how a stream ends that was refused something.

    1013: come back later. 1003: this sound cannot be heard. 1008: anything else that is not done.
    """
    code = AGAINST_RULES
    if isinstance(refusal, TooBusy):
        code = LATER
    elif isinstance(refusal, BadMedia):
        code = NOT_SOUND
    return StreamEnds(code, str(refusal), refusal)
