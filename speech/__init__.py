"""Hears spoken confirmations: exactly the phrases of the present step, or a refusal with its reason."""

from speech.hearing import HEARER_VERSION, Hearer, Hearing
from speech.model_folder import model_fingerprint
from speech.phrase import Meaning, Phrase, load_phrases
from speech.phrasebook import phrases_for
from speech.read_back import read_back
from speech.refusals import ClipRefused, ModelRefused, PhrasesRefused, SpeechRefusal

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
