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

_HOMES = {
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

__all__ = [
    "HEARER_VERSION",
    "ClipRefused",
    "Hearer",
    "Hearing",
    "Meaning",
    "ModelRefused",
    "Phrase",
    "PhrasesRefused",
    "SpeechRefusal",
    "load_phrases",
    "model_fingerprint",
    "phrases_for",
    "read_back",
]


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever the name stands for
    if name not in _HOMES:
        raise AttributeError(f"module 'speech' has no attribute {name!r}")
    return getattr(importlib.import_module(f"speech.{_HOMES[name]}"), name)
