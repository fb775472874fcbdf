"""What crosses the border while a person is listened to: sound in, events out. Times are seconds of the stream."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol


@dataclass(frozen=True)
class PartialWords:
    """The words of the utterance so far."""

    text: str
    at_s: float


@dataclass(frozen=True)
class UtteranceEnded:
    """The speaker has fallen silent, and what was said is being decided."""

    at_s: float


@dataclass(frozen=True)
class Utterance:
    """One utterance as heard in the stream.

    `hearing` has the shape of a clip's hearing, its word times from the beginning of this utterance's own sound;
    `start_s` says where in the stream that is. `doubts` are words of `clip_doubts.DOUBTS`. `final`: nothing that is
    said later changes it; then `content` are the bytes to keep, exactly as received, of media type `type`.
    """

    number: int
    hearing: Mapping[str, Any]
    restricts: bool
    start_s: float
    end_s: float
    uncertainty_s: float
    content: bytes
    type: str
    doubts: tuple[str, ...] = ()
    final: bool = False


@dataclass(frozen=True)
class ClaimWithdrawn:
    """The claim of utterance `number` does not stand: the speaker went on. It never becomes final."""

    number: int
    reason: str


@dataclass(frozen=True)
class OwnVoiceHeard:
    """The microphone picked up what the device itself said; nobody's statement, and not kept."""

    text: str
    at_s: float


StreamEvent = PartialWords | UtteranceEnded | Utterance | ClaimWithdrawn | OwnVoiceHeard


class Listening(Protocol):
    """One microphone being listened to. Used by one thread at a time; what it yields MUST be read to the end."""

    @property
    def now_s(self) -> float:
        """How much of the stream has been heard, in seconds."""
        ...

    @property
    def asleep(self) -> bool:
        """Whether it stands by: only the wake phrase and stop are taken."""
        ...

    def hear(self, received: bytes) -> Iterator[StreamEvent]:
        """Take bytes as they arrived; raises BadMedia where they are not what the encoding says."""
        ...

    def own_voice(self, text: str) -> Iterator[StreamEvent]:
        """The device begins to say this itself."""
        ...

    def own_voice_ended(self) -> None:
        """The device has stopped speaking."""
        ...

    def change(self, intents: Sequence[str]) -> Iterator[StreamEvent]:
        """Decide what was said so far, and listen for these intents from here on."""
        ...

    def close(self) -> Iterator[StreamEvent]:
        """Nothing more arrives: decide what is left. MUST be called once."""
        ...
