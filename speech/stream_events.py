"""What comes out of a live stream. All times are seconds from the stream's first sample."""

from dataclasses import dataclass
from typing import Final, Literal

from speech.hearing import Hearing

WORD_TIME_S: Final = 0.07
"""Uncertainty of a word's start and end: 5 to 95 % of errors on words at known times, rounded up."""

Doubt = Literal["over_own_voice", "cut_short", "cut_in", "went_before", "went_on"]
"""Why what was heard may restrict and may not permit: the device itself was speaking; the sound ends inside or
right after its words; it begins inside words; words that are no phrase went right before it, or right after."""


@dataclass(frozen=True)
class Partial:
    """Words so far."""

    text: str
    at_s: float


@dataclass(frozen=True)
class Ended:
    """An utterance has ended and is being decided; where nothing but noise was in it, nothing follows."""

    at_s: float


@dataclass(frozen=True)
class Uttered:
    """One utterance decided: the hearing (word times in the stream), its sound as received and where that lay.

    `speech_s`: from when to when words were heard.
    """

    hearing: Hearing
    start_s: float
    end_s: float
    speech_s: tuple[float, float]
    sound: bytes
    number: int
    doubts: tuple[Doubt, ...] = ()
    uncertainty_s: float = WORD_TIME_S

    @property
    def claims(self) -> bool:
        """Whether it is a claim that the speaker can still take back by going on."""
        return self.hearing.verdict == "heard" and not self.hearing.restricts and not self.doubts


@dataclass(frozen=True)
class Withdrawn:
    """The claim of utterance `number` no longer stands, and why. It never settles."""

    number: int
    reason: str


@dataclass(frozen=True)
class Settled:
    """Utterance `utterance.number` is whole: nothing that is said later changes it. Time to record it."""

    utterance: Uttered


@dataclass(frozen=True)
class OwnVoice:
    """The microphone picked up what the device itself was saying; nobody's statement."""

    text: str
    at_s: float


Event = Partial | Ended | Uttered | Withdrawn | Settled | OwnVoice
