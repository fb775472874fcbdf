"""Hearing a live stream: chunks of sound go in, events come out. No web in here; one object a microphone.

The words of the exact graph are followed chunk by chunk for partial words and for the end of an utterance;
each finished utterance is then decided like a clip. Six rules are the stream's own:

1. Stop acts at once, before the utterance has ended.
2. Who goes on speaking within `GOES_ON_S` after a claim may have meant something else: both parts are heard
   as one. A longer phrase replaces the claim; words that are no phrase withdraw it; a further phrase leaves it,
   and so does noise. A claim settles when nobody went on; what restricts, and a refusal, settle at once.
   In the same way a claim within `RIGHT_AFTER_S` of words that were no phrase ("I do not think that") is heard
   as one with them; where that is no longer the claim, it may restrict and not permit.
3. After the phrase for standing by, only the wake phrase and stop are taken until the wake phrase is heard.
4. Times are those of the words in the stream, in seconds from its first sample, never those of a message.
5. While the device itself speaks, and a moment after, sound is heard by itself: what it was going to say is
   nobody's statement, and anything else may restrict and never permits.
6. Words at which the sound was cut, by its length or by its end, may restrict and never permit.
"""

import json
from collections.abc import Iterator
from dataclasses import replace
from difflib import SequenceMatcher
from typing import Final

import numpy as np

from speech.activity import still_until
from speech.audio import RATE
from speech.hearing import Hearer, Hearing
from speech.recogniser import Samples
from speech.refusals import ClipRefused
from speech.stream_events import (
    WORD_TIME_S,
    Doubt,
    Ended,
    Event,
    OwnVoice,
    Partial,
    Settled,
    Uttered,
    Withdrawn,
)

__all__ = [
    "WORD_TIME_S",
    "Ended",
    "Event",
    "OwnVoice",
    "Partial",
    "Session",
    "Settled",
    "Uttered",
    "Withdrawn",
]

GOES_ON_S: Final = 1.5
RIGHT_AFTER_S: Final = 1.0
LONGEST_S: Final = 20.0
OWN_VOICE_TAIL_S: Final = 0.7
"""How long the device's voice may still arrive after it says that it ended: buffers, loudspeaker, room."""
_LEAD_S: Final = 0.3
_KEPT_S: Final = 2.0  # of sound before the first word; words are noticed up to 0.6 s after they begin
_PARTIAL_LAG_S: Final = 1.3
"""The first words of who goes on may be shown so much later: a lone "not" 0.9 to 1.3 s after it began."""
_CUT_S: Final = 0.3  # of sound that a phrase needs before and after it to be known as whole
_STOP_AGAIN_S: Final = 0.3
_SHORTEST: Final = RATE // 4
_ECHO: Final = 0.75  # of the letters of what was heard, in runs of the device's own sentence
_RUN: Final = 8  # letters of a run that counts: longer than any denial
_STEP: Final = RATE // 20
_MOST_CHUNK: Final = 10 * RATE * 2
_NOISE: Final = frozenset({"nothing", "unlike", "silent", "too_quiet", "clipped"})


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
        self._stopped: int | None = None  # sample of the stream up to which a stop has been taken
        self._tried_stop: tuple[str, float] = ("", 0.0)
        self._asleep = self._cut_in = False
        self._before: Uttered | None = None
        self._refused: Uttered | None = None  # the utterance just before, where it was no phrase
        self._voice: str | None = None  # what the device is saying, while it speaks
        self._voice_ends = np.inf

    def changed_to(self, hearer: Hearer) -> "Session":
        """The same stream, from here on with other phrases; call `close` on this one first."""
        other = Session(hearer)
        other._first, other._half = self._first + len(self._sound), self._half
        other._number, other._asleep = self._number, self._asleep
        other._voice, other._voice_ends = self._voice, self._voice_ends
        return other

    @property
    def asleep(self) -> bool:
        """True while standing by."""
        return self._asleep

    @property
    def now_s(self) -> float:
        """How much of the stream has been taken, in seconds."""
        return (self._first + len(self._sound)) / RATE

    def feed(self, pcm: bytes) -> list[Event]:
        """Take a chunk of any length up to ten seconds; raises ClipRefused for a longer one."""
        return list(self.hear(pcm))

    def hear(self, pcm: bytes) -> Iterator[Event]:
        """Like `feed`, giving each event as soon as it is known; MUST be read to its end."""
        if len(pcm) > _MOST_CHUNK:
            raise ClipRefused("a chunk holds at most ten seconds")
        whole = self._half + pcm
        even = len(whole) - len(whole) % 2
        self._half = whole[even:]
        samples = np.frombuffer(whole[:even], "<i2")
        for at in range(0, len(samples), _STEP):
            yield from self._take(samples[at : at + _STEP])

    def close(self) -> list[Event]:
        """The stream has ended, perhaps inside a word: what is left is decided as it stands."""
        left = list(self._finish(cut=True)) if self._said or len(self._sound) > _SHORTEST else []
        return left + list(self._settle())

    def own_voice(self, text: str = "") -> list[Event]:
        """(5) The device begins to speak; `text` is what it says, where it knows."""
        events = [*self._finish(cut=True, lead_s=0.0), *self._settle()] if self._voice is None else []
        self._voice, self._voice_ends, self._cut_in, self._refused = text, np.inf, False, None
        return events

    def own_voice_ended(self) -> None:
        """(5) The device has stopped speaking; its sound may come in for `OWN_VOICE_TAIL_S` more."""
        self._voice_ends = self.now_s + OWN_VOICE_TAIL_S

    def _take(self, samples: Samples) -> Iterator[Event]:
        self._sound = np.concatenate([self._sound, samples])
        ended = self._listener.AcceptWaveform(samples.tobytes())
        if not ended:
            yield from self._follow(str(json.loads(self._listener.PartialResult())["partial"]).strip())
        too_long = len(self._sound) > LONGEST_S * RATE
        if self.now_s >= self._voice_ends:
            yield from self._finish(lead_s=0.0)
            self._voice, self._voice_ends, self._refused = None, np.inf, None
        elif ended or (too_long and self._said):
            yield from self._finish(cut=not ended)
        elif not self._said and self._before is None and len(self._sound) > _KEPT_S * RATE:
            self._drop(len(self._sound) - int(_KEPT_S * RATE))
        if self._before is not None and self._nobody_went_on(self._before):
            yield from self._settle()

    def _follow(self, said: str) -> Iterator[Event]:
        if said != self._said and said:
            begun = self._spoke[0] if self._spoke else max(0.0, self.now_s - _PARTIAL_LAG_S)
            self._spoke = begun, self.now_s
            yield Partial(said, self.now_s)
        self._said = said
        yield from self._stop_at_once(said)

    def _drop(self, count: int) -> None:
        self._first, self._sound = self._first + count, self._sound[count:].copy()

    def _stop_at_once(self, said: str) -> Iterator[Event]:
        """(1) Words that are a stop are decided while the speaker still speaks."""
        if self._stopped is not None or not self._hearer.is_stop(said) or self._is_own(said):
            return
        before, at = self._tried_stop
        if said == before and self.now_s - at < _STOP_AGAIN_S:
            return
        self._tried_stop = said, self.now_s
        heard = self._hearer.hear_samples(self._sound)
        if heard.verdict == "heard" and self._hearer.is_stop(heard.text):
            yield from self._settle()
            self._stopped = self._first + len(self._sound)
            utterance = self._uttered(heard, self._sound, self._first)
            yield utterance
            yield Settled(utterance)

    def _finish(self, *, cut: bool = False, lead_s: float = _LEAD_S) -> Iterator[Event]:
        """Decide the sound since the last utterance; `cut`: not because the speaker fell silent (6)."""
        self._listener.Reset()
        sound, first, said = self._sound, self._first, self._said
        self._drop(len(sound) - min(len(sound), int(lead_s * RATE)))
        spoke, self._spoke, self._said = self._spoke, None, ""
        stopped, self._stopped, self._tried_stop = self._stopped, None, ("", 0.0)
        cut_in, self._cut_in = self._cut_in, cut and bool(said)
        if stopped is not None:
            sound, first = sound[stopped - first :], stopped
        elif self._before is None:
            still = max(0, still_until(sound) - int(_LEAD_S * RATE))
            sound, first = sound[still:], first + still
        if len(sound) < _SHORTEST:
            return
        if said:
            yield Ended(first / RATE + len(sound) / RATE)
        heard = self._hearer.hear_samples(sound)
        if heard.verdict == "refused" and (not heard.nearest or (heard.kind in _NOISE and not said)):
            return
        if stopped is not None and (heard.kind in _NOISE or self._hearer.is_stop(heard.text)):
            return  # the rest of a stop that has been taken
        utterance = self._uttered(heard, sound, first, spoke)
        before, self._refused = self._refused, utterance if heard.verdict == "refused" else None
        doubted = self._doubted(utterance, cut=cut, cut_in=cut_in)
        if doubted.claims and before is not None and self._taken_back_before(before, doubted):
            doubted = replace(doubted, doubts=("went_before",))
        yield from self._decided(doubted, sound)

    def _taken_back_before(self, before: Uttered, claim: Uttered) -> bool:
        """(2) Whether a claim is another matter, or none, with the words that went right before it."""
        if claim.speech_s[0] - before.speech_s[1] >= RIGHT_AFTER_S:
            return False
        heard = self._hearer.hear_samples(
            _one_sound(before, claim.start_s, np.frombuffer(claim.sound, "<i2"))
        )
        return heard.verdict != "heard" or heard.text != claim.hearing.text

    def _doubted(self, utterance: Uttered, *, cut: bool, cut_in: bool) -> Uttered:
        doubts = list[Doubt]()
        if self._voice is not None:
            doubts.append("over_own_voice")
        if cut and utterance.end_s - utterance.speech_s[1] < _CUT_S:
            doubts.append("cut_short")
        if cut_in and utterance.speech_s[0] - utterance.start_s < _CUT_S + _LEAD_S:
            doubts.append("cut_in")
        return replace(utterance, doubts=tuple(doubts))

    def _decided(self, utterance: Uttered, sound: Samples) -> Iterator[Event]:
        heard = utterance.hearing
        if self._voice is not None and (self._is_own(heard.text) or self._is_echo(heard) or not _acts(heard)):
            yield OwnVoice(heard.text, utterance.speech_s[0])
            return
        before = self._before
        if before and utterance.speech_s[0] - before.speech_s[1] < GOES_ON_S and not utterance.doubts:
            yield from self._joined(before, utterance, sound)
        else:
            yield from self._settle()
            yield from self._stands(utterance)

    def _stands(self, utterance: Uttered) -> Iterator[Event]:
        """An utterance by itself: a claim waits for whether the speaker goes on, all else is final (2)."""
        if not self._taken(utterance.hearing):
            return
        yield utterance
        if utterance.claims:
            self._before = utterance
        else:
            yield Settled(utterance)

    def _settle(self) -> Iterator[Event]:
        before, self._before = self._before, None
        if before is not None:
            yield Settled(before)

    def _nobody_went_on(self, before: Uttered) -> bool:
        speaking = self._spoke if self._said else None
        if speaking and speaking[0] - before.speech_s[1] < GOES_ON_S:
            return False
        return self.now_s - before.speech_s[1] > GOES_ON_S + _PARTIAL_LAG_S

    def _joined(self, before: Uttered, utterance: Uttered, sound: Samples) -> Iterator[Event]:
        """(2) The earlier claim and what followed it, heard as one."""
        whole = _one_sound(before, utterance.start_s, sound)
        heard, apart = self._hearer.hear_samples(whole), utterance.hearing
        both = self._uttered(heard, whole, round(before.start_s * RATE), before.speech_s)
        if heard.verdict == "heard" and heard.text != before.hearing.text:
            self._before = None
            yield Withdrawn(before.number, heard.text)
            yield from self._stands(both)
        elif apart.verdict == "heard":
            yield from self._settle()
            yield from self._stands(utterance)
        elif heard.verdict == "heard" and apart.kind in _NOISE:
            self._before = replace(both, number=before.number)
        else:
            self._before = None
            yield Withdrawn(before.number, apart.reason or "")
            refused = replace(apart, words=()) if heard.verdict == "heard" else both.hearing
            speech = before.speech_s[0], utterance.speech_s[1]
            yield from self._stands(replace(both, hearing=refused, speech_s=speech, doubts=("went_on",)))

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

    def _is_own(self, text: str) -> bool:
        """(5) Whether the device is saying these words: one after the other; a stop even word by word.

        A caution that speaks of stopping is easily heard as a stop; with a word of its own, a stop acts.
        """
        if self._voice is None or not text:
            return False
        words, said = _plain(text), _plain(self._voice)
        if self._hearer.is_stop(text):
            return set(words.split()) <= set(said.split())
        return f" {words} " in f" {said} "

    def _is_echo(self, heard: Hearing) -> bool:
        """(5) Whether words that are no phrase are those that the device is saying, cut and heard a little wrongly.

        A short word stands in many a sentence: only longer runs of letters count.
        """
        said, like = (_plain(text).replace(" ", "") for text in (self._voice or "", heard.nearest))
        if heard.verdict == "heard" or not like:
            return False
        alike = SequenceMatcher(None, like, said, autojunk=False).get_matching_blocks()
        return sum(block.size for block in alike if block.size >= _RUN) >= _ECHO * len(like)

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


def _one_sound(before: Uttered, start_s: float, sound: Samples) -> Samples:
    """The sound of an utterance and the one that follows it, which may begin inside it."""
    overlap = round((before.end_s - start_s) * RATE)
    return np.concatenate([np.frombuffer(before.sound, "<i2"), sound[max(0, overlap) :]])


def _acts(heard: Hearing) -> bool:
    """Whether a hearing says something, or restricts without being a phrase."""
    return heard.verdict == "heard" or heard.restricts


def _plain(text: str) -> str:
    return " ".join("".join(sign if sign.isalnum() or sign == "'" else " " for sign in text.lower()).split())
