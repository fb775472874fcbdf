"""Hearing a live stream: chunks of sound go in, events come out. No web in here; one object a microphone.

The words of the exact graph are followed chunk by chunk for partial words and for the end of an utterance;
each finished utterance is then decided like a clip. Four rules are the stream's own:

1. Stop acts at once, before the utterance has ended.
2. Who goes on speaking within `GOES_ON_S` after a claim may have meant something else: both parts are heard
   as one. A longer phrase replaces the claim; words that are no phrase withdraw it; a further phrase leaves it.
3. After the phrase for standing by, only the wake phrase and stop are taken until the wake phrase is heard.
4. Times are those of the words in the stream, in seconds from its first sample, never those of a message.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from speech.audio import RATE
from speech.hearing import Hearer, Hearing
from speech.recogniser import Samples
from speech.refusals import ClipRefused

GOES_ON_S: Final = 1.5
LONGEST_S: Final = 20.0
WORD_TIME_S: Final = 0.07
"""Uncertainty of a word's start and end: 5 to 95 % of errors on words at known times, rounded up."""
_LEAD_S: Final = 0.3
_PARTIAL_LAG_S: Final = 0.6  # the first partial word comes about so long after the word has begun
_STEP: Final = RATE // 10
_MOST_CHUNK: Final = 10 * RATE * 2


@dataclass(frozen=True)
class Partial:
    """Words so far, with the stream's time in seconds."""

    text: str
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
    uncertainty_s: float = WORD_TIME_S


@dataclass(frozen=True)
class Withdrawn:
    """The claim of utterance `number` no longer stands, and why."""

    number: int
    reason: str


Event = Partial | Uttered | Withdrawn


class Session:
    """One speaker's stream of 16 kHz mono PCM, 16 bit little endian. Sessions share nothing but the models."""

    def __init__(self, hearer: Hearer, rate: int = RATE) -> None:
        if rate != RATE:
            raise ClipRefused(f"a stream has {RATE} samples a second; {rate} were declared")
        self._hearer = hearer
        self._listener = hearer.listener()
        self._sound = np.zeros(0, np.int16)
        self._first = 0  # sample number of _sound[0] in the stream
        self._half = b""
        self._said, self._number = "", 0
        self._spoke: tuple[float, float] | None = None
        self._stopped = self._asleep = False
        self._before: Uttered | None = None

    @property
    def asleep(self) -> bool:
        """True while standing by."""
        return self._asleep

    def feed(self, pcm: bytes) -> list[Event]:
        """Take a chunk of any length up to ten seconds; raises ClipRefused for a longer one."""
        if len(pcm) > _MOST_CHUNK:
            raise ClipRefused("a chunk holds at most ten seconds")
        whole = self._half + pcm
        even = len(whole) - len(whole) % 2
        self._half = whole[even:]
        samples = np.frombuffer(whole[:even], "<i2")
        return [
            event for at in range(0, len(samples), _STEP) for event in self._take(samples[at : at + _STEP])
        ]

    def close(self) -> list[Event]:
        """The stream has ended, perhaps inside a word: what is left is decided as it stands."""
        return list(self._finish()) if self._said or len(self._sound) > RATE // 4 else []

    def _take(self, samples: Samples) -> Iterator[Event]:
        self._sound = np.concatenate([self._sound, samples])
        ended = self._listener.AcceptWaveform(samples.tobytes())
        if not ended:
            said = str(json.loads(self._listener.PartialResult())["partial"]).strip()
            if said != self._said and said:
                begun = self._spoke[0] if self._spoke else max(0.0, self._now() - _PARTIAL_LAG_S)
                self._spoke = begun, self._now()
                yield Partial(said, self._now())
            self._said = said
            yield from self._stop_at_once(said)
        if ended or len(self._sound) > LONGEST_S * RATE:
            yield from self._finish()

    def _now(self) -> float:
        return (self._first + len(self._sound)) / RATE

    def _stop_at_once(self, said: str) -> Iterator[Event]:
        """(1) Words that are a stop are decided while the speaker still speaks."""
        if self._stopped or not self._hearer.is_stop(said):
            return
        heard = self._hearer.hear_samples(self._sound)
        if heard.verdict == "heard" and self._hearer.is_stop(heard.text):
            self._stopped = True
            yield self._uttered(heard, self._sound, self._first)

    def _finish(self) -> Iterator[Event]:
        self._listener.Reset()
        sound, first, said = self._sound, self._first, self._said
        keep = min(len(sound), int(_LEAD_S * RATE))
        self._first, self._sound = first + len(sound) - keep, sound[len(sound) - keep :].copy()
        self._said, stopped, self._stopped = "", self._stopped, False
        spoke, self._spoke = self._spoke, None
        if stopped or (not said and len(sound) < RATE // 4):
            return
        heard = self._hearer.hear_samples(sound)
        if not heard.nearest and heard.verdict == "refused":
            return
        yield from self._decided(self._uttered(heard, sound, first, spoke), sound)

    def _decided(self, utterance: Uttered, sound: Samples) -> Iterator[Event]:
        before, self._before = self._before, None
        if before and self._goes_on(before, utterance):
            yield from self._joined(before, utterance, sound)
            return
        if self._taken(utterance.hearing):
            self._before = utterance
            yield utterance

    def _goes_on(self, before: Uttered, utterance: Uttered) -> bool:
        gap = utterance.speech_s[0] - before.speech_s[1]
        return before.hearing.verdict == "heard" and gap < GOES_ON_S

    def _joined(self, before: Uttered, utterance: Uttered, sound: Samples) -> Iterator[Event]:
        """(2) The earlier claim and what followed it, heard as one."""
        overlap = round((before.end_s - utterance.start_s) * RATE)
        earlier = np.frombuffer(before.sound, "<i2")
        whole = np.concatenate([earlier, sound[max(0, overlap) :]])
        heard = self._hearer.hear_samples(whole)
        if heard.verdict == "heard" and heard.text != before.hearing.text:
            yield Withdrawn(before.number, heard.text)
            longer = self._uttered(heard, whole, round(before.start_s * RATE))
            self._before = longer
            yield longer
        elif utterance.hearing.verdict == "heard":
            if self._taken(utterance.hearing):
                self._before = utterance
                yield utterance
        else:
            yield Withdrawn(before.number, utterance.hearing.reason or "")
            yield utterance

    def _taken(self, heard: Hearing) -> bool:
        """(3) Whether a hearing counts; follows standing by and waking."""
        action = heard.slots.get("action") if heard.intent == "control" else None
        if self._asleep and action == "wake":
            self._asleep = False
            return True
        if self._asleep:
            return self._hearer.is_stop(heard.text)
        self._asleep = action == "stand_by"
        return True

    def _uttered(
        self, heard: Hearing, sound: Samples, first: int, spoke: tuple[float, float] | None = None
    ) -> Uttered:
        """(4) The hearing with its word times moved to the stream's own time."""
        self._number += 1
        start = first / RATE
        words = tuple(replace(w, start=w.start + start, end=w.end + start) for w in heard.words)
        end = start + len(sound) / RATE
        speech = (words[0].start, words[-1].end) if words else spoke or (start, end)
        return Uttered(replace(heard, words=words), start, end, speech, sound.tobytes(), self._number)
