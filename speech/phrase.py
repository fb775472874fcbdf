"""A phrase that may be heard and what it means; phrase lists from JSON lines.

A plain phrase is words only. A pattern holds slots in braces, `contact {contact} {state}`; the slots
stand beside it and fill the same braces in its meaning.
"""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from speech.refusals import PhrasesRefused

if TYPE_CHECKING:
    from speech.slots import Slot

_WORD: Final = re.compile(r"[^\W_]+(?:'[^\W_]+)*|\{[a-z_0-9]+\}")
_MOST_BYTES: Final = 4_000_000
_MOST_WORDS: Final = 40


@dataclass(frozen=True)
class Meaning:
    """An intent and its slots: JSON values, as the journal and the domain keep them."""

    intent: str
    slots: Mapping[str, Any] = field(default_factory=dict)

    def key(self) -> str:
        """One text for equal meanings, whatever the order of their slots."""
        return json.dumps([self.intent, self.slots], sort_keys=True)

    def to_json(self) -> dict[str, Any]:
        """The object `{"intent", "slots"}`."""
        return {"intent": self.intent, "slots": dict(self.slots)}


@dataclass(frozen=True)
class Phrase:
    """What may be said (lower-case words, slots in braces) and what it means.

    care: `strict` where a slip makes danger, `wide` where it is harmless. corrects: may be followed by
    the word for a correction and a phrase of the same group. stops: acts at once, on weak evidence.
    restricts: makes the work more careful, so that it counts even where two speak at once.
    """

    text: str
    meaning: Meaning
    slots: tuple[tuple[str, "Slot"], ...] = ()
    care: str = "strict"
    group: str = ""
    corrects: bool = False
    stops: bool = False
    restricts: bool = False

    def words(self) -> list[str]:
        """The words and slots of the text in order."""
        return self.text.split()


def words_of(text: str) -> list[str]:
    """Lower-case words of a sentence as recognisers write them; marks and hyphens part words."""
    return [word for word in _WORD.findall(text.lower()) if word]


def _meaning(found: object, line: int) -> Meaning | None:
    if found is None:
        return None
    if not isinstance(found, dict) or not isinstance(found.get("intent"), str):
        raise PhrasesRefused(f"line {line}: a meaning is null or an object with a text `intent`")
    slots = found.get("slots", {})
    if not isinstance(slots, dict):
        raise PhrasesRefused(f"line {line}: `slots` is not an object")
    return Meaning(found["intent"], slots)


def _reject(value: str) -> float:
    raise ValueError(f"{value} is no number a phrase may mean")


def _phrase(text: str, line: int) -> tuple[str, Meaning | None]:
    try:
        found = json.loads(text, parse_constant=_reject)
    except (ValueError, RecursionError) as fault:
        raise PhrasesRefused(f"line {line}: not a JSON object ({fault})") from fault
    if not isinstance(found, dict) or not isinstance(found.get("text"), str) or "meaning" not in found:
        raise PhrasesRefused(
            f"line {line}: needs a text `text` and a `meaning` (null where it means nothing)"
        )
    words = words_of(found["text"])
    if not words or any("{" in word for word in words):
        raise PhrasesRefused(f"line {line}: `text` holds no words that could be said")
    if len(words) > _MOST_WORDS:
        raise PhrasesRefused(
            f"line {line}: {len(words)} words; at most {_MOST_WORDS} can be said as one phrase"
        )
    return " ".join(words), _meaning(found["meaning"], line)


def parse_phrases(text: str, care: Mapping[str, str] | None = None) -> tuple[Phrase, ...]:
    """The phrases of JSON lines with a meaning, in order; lines whose meaning is null are left out.

    Raises PhrasesRefused with the line's number, and for a list that leaves nothing to be heard.
    """
    kept = []
    for line, content in enumerate(text.splitlines(), start=1):
        if not content.strip():
            continue
        said, meaning = _phrase(content, line)
        if meaning is not None:
            kept.append(Phrase(said, meaning, care=(care or {}).get(meaning.intent, "strict")))
    if not kept:
        raise PhrasesRefused("the phrase list is empty: nothing could be heard")
    return tuple(kept)


def load_phrases(path: str | Path) -> tuple[Phrase, ...]:
    """The phrases of a JSON lines file; raises PhrasesRefused when it cannot be read or used."""
    from speech.phrasebook import care_by_intent  # noqa: PLC0415 - the phrase book is made of phrases

    try:
        raw = Path(path).read_bytes()
    except OSError as fault:
        raise PhrasesRefused(f"cannot read {path}: {fault.strerror}") from fault
    if len(raw) > _MOST_BYTES:
        raise PhrasesRefused(f"{path} is larger than {_MOST_BYTES} bytes")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise PhrasesRefused(f"{path} is not UTF-8 text") from fault
    return parse_phrases(text, care_by_intent())


def split_ambiguous(phrases: Iterable[Phrase]) -> tuple[tuple[Phrase, ...], dict[str, str]]:
    """Phrases that mean one thing each, and why others are left out: said twice, or with two meanings."""
    first: dict[str, Phrase] = {}
    out: dict[str, str] = {}
    for phrase in phrases:
        other = first.get(phrase.text)
        if other is None:
            first[phrase.text] = phrase
        elif other.meaning.key() == phrase.meaning.key():
            out.setdefault(phrase.text, "listed twice, heard once")
        else:
            out[phrase.text] = "ambiguous: listed with two meanings, cannot be heard"
    unheard = {text for text, why in out.items() if why.startswith("ambiguous")}
    return tuple(p for p in first.values() if p.text not in unheard), out
