"""Hears spoken confirmations: exactly the phrases of the present step, or a refusal with its reason.

The names below load on first use, so that a part (the training recipe, the phrase book) can be used where the
recogniser is not installed.
"""

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from speech.hearing import HEARER_VERSION, Hearer, Hearing
    from speech.model_folder import model_fingerprint
    from speech.phrase import Meaning, Phrase, load_phrases
    from speech.phrasebook import phrases_for
    from speech.reading_back import read_back
    from speech.refusals import ClipRefused, ModelRefused, PhrasesRefused, SpeechRefusal
    from speech.stream_events import Ended, OwnVoice, Partial, Settled, Uttered, Withdrawn
    from speech.stream_events import Event as StreamEvent
    from speech.stream_sound import StreamSound, sound_of_stream
    from speech.streaming import Session as StreamSession

_HOMES = {
    "Ended": "stream_events",
    "OwnVoice": "stream_events",
    "Partial": "stream_events",
    "Settled": "stream_events",
    "StreamEvent": "stream_events",
    "StreamSession": "streaming",
    "StreamSound": "stream_sound",
    "Uttered": "stream_events",
    "Withdrawn": "stream_events",
    "sound_of_stream": "stream_sound",
    "HEARER_VERSION": "hearing",
    "Hearer": "hearing",
    "Hearing": "hearing",
    "Meaning": "phrase",
    "Phrase": "phrase",
    "load_phrases": "phrase",
    "phrases_for": "phrasebook",
    "read_back": "reading_back",
    "model_fingerprint": "model_folder",
    "ClipRefused": "refusals",
    "ModelRefused": "refusals",
    "PhrasesRefused": "refusals",
    "SpeechRefusal": "refusals",
}

_OWN_NAMES = {"StreamEvent": "Event", "StreamSession": "Session"}
"""Names that say less where they live."""

__all__ = [
    "HEARER_VERSION",
    "ClipRefused",
    "Ended",
    "Hearer",
    "Hearing",
    "Meaning",
    "ModelRefused",
    "OwnVoice",
    "Partial",
    "Phrase",
    "PhrasesRefused",
    "Settled",
    "SpeechRefusal",
    "StreamEvent",
    "StreamSession",
    "StreamSound",
    "Uttered",
    "Withdrawn",
    "load_phrases",
    "model_fingerprint",
    "phrases_for",
    "read_back",
    "sound_of_stream",
]


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever the name stands for
    if name not in _HOMES:
        raise AttributeError(f"module 'speech' has no attribute {name!r}")
    own = _OWN_NAMES.get(name, name)
    return getattr(importlib.import_module(f"speech.{_HOMES[name]}"), own)
