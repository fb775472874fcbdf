"""What is said back for a meaning: its own phrase with the values in words, the deciding word last.

A sentence has at most twelve words; longer meanings (many contacts) are read back group by group, so that
each group can be confirmed by itself.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any, Final

from speech.language import DEFAULT, table
from speech.phrase import Meaning, Phrase
from speech.phrasebook import all_phrases
from speech.slots import Name, Slot
from speech.spelling import label_words

MOST_WORDS: Final = 12
_LABELS_A_GROUP: Final = 3
_MARKS: Final = ("corrected",)


def read_back(meaning: Meaning, language: str = DEFAULT) -> str:
    """The whole read-back; groups are parted by full stops."""
    return ". ".join(read_back_groups(meaning, language))


def read_back_groups(meaning: Meaning, language: str = DEFAULT) -> list[str]:
    """One sentence for each group that is confirmed by itself."""
    slots = {key: value for key, value in meaning.slots.items() if key not in _MARKS}
    lists = _contact_lists(meaning.intent, slots, language)
    if lists:
        return lists
    for phrase in _book(tuple(_labels_in(slots)), language):
        if phrase.meaning.intent == meaning.intent:
            values = _unify(dict(phrase.meaning.slots), slots, dict(phrase.slots))
            if values is not None:
                return [_grouped(phrase, values)]
    return [_spelled_out(meaning.intent, slots)]


def _book(labels: tuple[str, ...], language: str) -> tuple[Phrase, ...]:
    """The phrases with these labels; the usual labels share one book."""
    usual = table("slots", language)["contact"]["default"]
    return _made(() if set(labels) <= set(usual) else labels, language)


@lru_cache(maxsize=64)
def _made(labels: tuple[str, ...], language: str) -> tuple[Phrase, ...]:
    return all_phrases(labels, language)


def _contact_lists(intent: str, slots: Mapping[str, Any], language: str) -> list[str]:
    """Several contacts: three labels a sentence, all of one state."""
    said = table("read_back", language)
    contacts = slots.get("contacts")
    if intent == "contact" and isinstance(contacts, list) and len(contacts) > 1:
        pattern = said["lists"]["contact_denied" if slots.get("negated") else "contact"]
        return [
            _one_or_more(pattern, part, said, state=slots.get("state")) for part in _parts(contacts, language)
        ]
    found = []
    for group in said["groups"]:
        for state, pattern in group.items():
            if isinstance(slots.get(state), list):
                found += [_one_or_more(pattern, part, said) for part in _parts(slots[state], language)]
    return found


def _labels_in(slots: Mapping[str, Any]) -> list[str]:
    """The contact labels of a meaning, so that labels of any chart can be said."""
    single, several = slots.get("contact"), slots.get("contacts")
    return [v for v in [single, *(several if isinstance(several, list) else [])] if isinstance(v, str)]


def _one_or_more(pattern: str, labels: list[str], said: Mapping[str, Any], **filled: object) -> str:
    """The sentence for these labels; a single one takes the word for one contact."""
    sentence = pattern.format(labels=", ".join(labels), **filled)
    if len(labels) == 1:
        for several, one in said["one_label"].items():
            sentence = sentence.replace(several, one)
    return sentence


def _parts(labels: Sequence[str], language: str) -> list[list[str]]:
    words = [label_words(label, language) or label for label in labels]
    size = _LABELS_A_GROUP if all(len(w.split()) <= 2 for w in words) else 2
    return [words[i : i + size] for i in range(0, len(words), size)]


def _unify(template: Any, given: Any, slots: Mapping[str, Slot]) -> dict[str, str] | None:  # noqa: ANN401 - JSON
    """Words for every `{name}` of the template that make it equal to what is given, or None."""
    if isinstance(template, str) and template.startswith("{"):
        slot = slots[template[1:-1]]
        words = slot.say(given)
        if words is None and isinstance(slot, Name) and isinstance(given, str):
            words = given.replace("_", " ")  # what another site calls its own is said as it stands
        return None if words is None else {template: words}
    if isinstance(template, Mapping) and isinstance(given, Mapping) and len(template) == len(given):
        pairs: list[tuple[Any, Any]] = []
        for (key, value), (given_key, given_value) in zip(_ordered(template), _ordered(given), strict=True):
            pairs += [(key, given_key), (value, given_value)]
        return _all(pairs, slots)
    if isinstance(template, list) and isinstance(given, list) and len(template) == len(given):
        return _all(list(zip(template, given, strict=True)), slots)
    return {} if type(template) is type(given) and template == given else None


def _ordered(mapping: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """Keys with braces last, so that they meet the one key that is left over."""
    return sorted(mapping.items(), key=lambda item: (item[0].startswith("{"), item[0] != "negated", item[0]))


def _all(pairs: Sequence[tuple[Any, Any]], slots: Mapping[str, Slot]) -> dict[str, str] | None:
    found: dict[str, str] = {}
    for template, given in pairs:
        words = _unify(template, given, slots)
        if words is None or any(found.get(name, said) != said for name, said in words.items()):
            return None
        found |= words
    return found


def _grouped(phrase: Phrase, values: Mapping[str, str]) -> str:
    """The phrase with its values; a pause stands before and after a value of several words."""
    parts: list[str] = []
    for token in phrase.words():
        words = values.get(token, token)
        if parts and (len(words.split()) > 2):
            parts[-1] = parts[-1].rstrip(",") + ","
        parts.append(words)
    return " ".join(parts)


def _spelled_out(intent: str, slots: Mapping[str, Any]) -> str:
    """For a meaning that only a site's own list has: its intent and values as words."""
    values = [f"{key} {value}" for key, value in slots.items()]
    return " ".join([intent, *values]).replace("_", " ")
