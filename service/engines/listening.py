"""The ear on a live stream, behind its port; it shares the loaded phrases with the ear on clips."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import speech
from service.domain.refusals import BadMedia
from service.ports.stream import (
    ClaimWithdrawn,
    Listening,
    OwnVoiceHeard,
    PartialWords,
    StreamEvent,
    Utterance,
    UtteranceEnded,
)

HearerOf = Callable[[Sequence[str]], "speech.Hearer"]
"""Intents -> what hears them."""


def begin(hearer_of: HearerOf, intents: Sequence[str], encoding: str, rate: int) -> Listening:
    """Return what listens to one stream; raises BadMedia for an encoding or a rate that is not heard here."""
    session = speech.StreamSession(hearer_of(intents))
    try:
        return SpeechListening(hearer_of, session, speech.sound_of_stream(encoding, rate))
    except speech.ClipRefused as refusal:
        raise BadMedia(_sentence(refusal), field="encoding") from refusal


class SpeechListening:
    """Implements `ports.stream.Listening` by a session of the ear and the sound as it arrives."""

    def __init__(
        self, hearer_of: HearerOf, session: "speech.StreamSession", sound: "speech.StreamSound"
    ) -> None:
        self._hearer_of, self._session, self._sound = hearer_of, session, sound

    @property
    def now_s(self) -> float:
        """How much has been heard, in seconds."""
        return self._session.now_s

    @property
    def asleep(self) -> bool:
        """Whether it stands by."""
        return self._session.asleep

    def hear(self, received: bytes) -> Iterator[StreamEvent]:
        """Take bytes as they arrived."""
        try:
            yield from self._told(self._session.hear(self._sound.decode(received)))
        except speech.ClipRefused as refusal:
            raise BadMedia(_sentence(refusal), field="sound") from refusal

    def own_voice(self, text: str) -> Iterator[StreamEvent]:
        """The device begins to say this."""
        yield from self._told(self._session.own_voice(text))

    def own_voice_ended(self) -> None:
        """The device has stopped speaking."""
        self._session.own_voice_ended()

    def change(self, intents: Sequence[str]) -> Iterator[StreamEvent]:
        """Listen for other intents from here on."""
        hearer = self._hearer_of(intents)
        yield from self._told(self._session.close())
        self._session = self._session.changed_to(hearer)

    def close(self) -> Iterator[StreamEvent]:
        """Decide what is left."""
        try:
            left = self._sound.end()
        except speech.ClipRefused as refusal:
            raise BadMedia(_sentence(refusal), field="sound") from refusal
        yield from self._told(self._session.hear(left))
        yield from self._told(self._session.close())

    def _told(self, events: "Iterable[speech.StreamEvent]") -> Iterator[StreamEvent]:
        for event in events:
            match event:
                case speech.Partial():
                    yield PartialWords(event.text, event.at_s)
                case speech.Ended():
                    yield UtteranceEnded(event.at_s)
                case speech.Withdrawn():
                    yield ClaimWithdrawn(event.number, event.reason)
                case speech.OwnVoice():
                    yield OwnVoiceHeard(event.text, event.at_s)
                case speech.Settled():
                    yield self._utterance(event.utterance, final=True)
                case speech.Uttered():
                    yield self._utterance(event)

    def _utterance(self, uttered: "speech.Uttered", *, final: bool = False) -> Utterance:
        content, media_type = self._sound.evidence(uttered) if final else (b"", "")
        return Utterance(
            number=uttered.number,
            hearing=_of_its_own_sound(uttered),
            restricts=uttered.hearing.restricts,
            start_s=uttered.start_s,
            end_s=uttered.end_s,
            uncertainty_s=uttered.uncertainty_s,
            content=content,
            type=media_type,
            doubts=tuple(uttered.doubts),
            final=final,
        )


def _of_its_own_sound(uttered: "speech.Uttered") -> Mapping[str, Any]:
    words = tuple(
        replace(word, start=word.start - uttered.start_s, end=word.end - uttered.start_s)
        for word in uttered.hearing.words
    )
    return replace(uttered.hearing, words=words).to_json()


def _sentence(refusal: Exception) -> str:
    said = str(refusal)
    return f"{said[:1].upper()}{said[1:]}."
