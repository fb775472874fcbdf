"""The ear behind its port: the only importer of `speech` in the service."""

import json
import threading
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import speech
from service.domain.refusals import BadDefinition
from service.engines.listening import begin
from service.ports import Vocabulary
from service.ports.stream import Listening

_ONE_AT_A_TIME = threading.Lock()
"""Two streams that open the same step load its phrases once."""


class SpeechHearing:
    """Implements `ports.Hearing`; keeps the graphs of a step's phrases from one clip to the next."""

    def hear(self, clip: bytes, intents: Sequence[str], vocabulary: Vocabulary) -> Mapping[str, Any]:
        """Return the hearing of a clip, listening for these intents and names alone."""
        return _hearer_of(intents, vocabulary).hear(clip).to_json()

    def listen(self, intents: Sequence[str], vocabulary: Vocabulary, encoding: str, rate: int) -> Listening:
        """Begin to listen to a stream with the same phrases, loaded once for clips and streams."""
        return begin(lambda named: _hearer_of(named, vocabulary), intents, encoding, rate)

    def phrases(self, vocabulary: Vocabulary) -> bytes:
        """Return every phrase with these names as JSON lines."""
        lines = [
            json.dumps({"text": phrase.text, "meaning": phrase.meaning.to_json()}, sort_keys=True)
            for phrase in _phrases((), vocabulary)
        ]
        return "\n".join([*lines, ""]).encode()

    def read_back(self, intent: str, slots: Mapping[str, Any]) -> str:
        """Return the sentence that is given back for what was understood."""
        return _read_back(json.dumps([intent, dict(slots)], sort_keys=True))

    def fingerprint(self) -> str:
        """Return the version of the hearer with the hash of its model."""
        return f"{speech.HEARER_VERSION} {speech.model_fingerprint()}"


def _hearer_of(intents: Sequence[str], vocabulary: Vocabulary) -> "speech.Hearer":
    """Return what hears these intents and names alone, kept from one clip or stream to the next."""
    with _ONE_AT_A_TIME:
        return _hearer(tuple(sorted(set(intents))), vocabulary)


@lru_cache(maxsize=512)
def _read_back(meaning: str) -> str:
    intent, slots = json.loads(meaning)
    return speech.read_back(speech.Meaning(intent, slots))


@lru_cache(maxsize=8)  # some 5 MB each beside the graphs in use
def _hearer(intents: tuple[str, ...], vocabulary: Vocabulary) -> speech.Hearer:
    known = {phrase.meaning.intent for phrase in _phrases((), vocabulary)}
    try:
        return speech.Hearer(_phrases(tuple(name for name in intents if name in known), vocabulary))
    except speech.SpeechRefusal as refusal:
        raise BadDefinition(str(refusal), field="phrases") from refusal


@lru_cache(maxsize=16)
def _phrases(intents: tuple[str, ...], vocabulary: Vocabulary) -> tuple[speech.Phrase, ...]:
    names = {"source": vocabulary.sources, "foreign": vocabulary.circuits}
    given = {slot: spoken for slot, spoken in names.items() if spoken}
    try:
        return speech.phrases_for(intents, vocabulary.contacts, names=given)
    except speech.SpeechRefusal as refusal:
        raise BadDefinition(str(refusal), field="phrases") from refusal
