"""From words to intent and slots, and what kind of doubt a sentence holds that is no phrase.

Only exactly a phrase has a meaning. Denials are phrases of their own (`negated`); a slip and its correction
mean what was said last (`corrected`). Words that fit two phrases with different meanings mean nothing.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from speech.language import DEFAULT, table
from speech.phrase import Meaning, Phrase
from speech.slots import Slot

_FOLDED: Final = "groups"


@dataclass(frozen=True)
class Understood:
    """The phrase that the words are, and what they mean."""

    phrase: Phrase
    meaning: Meaning


class Understanding:
    """Knows the phrases of one list and finds the meaning of a text."""

    def __init__(self, phrases: Sequence[Phrase], correction: Sequence[str] = ()) -> None:
        self._plain: dict[str, Phrase] = {p.text: p for p in phrases if not p.slots}
        self._patterns = [phrase for phrase in phrases if phrase.slots]
        self._correction = frozenset(correction)
        self._known: dict[str, Understood | None] = {}

    def of(self, text: str) -> Understood | None:
        """What the text means, or None: no phrase, or phrases that contradict each other."""
        if text not in self._known:
            if len(self._known) > 10_000:
                self._known.clear()
            self._known[text] = self._find(text.split())
        return self._known[text]

    def key(self, text: str) -> str | None:
        """One text for equal meanings, None for no meaning."""
        found = self.of(text)
        return found.meaning.key() if found else None

    def _find(self, words: list[str]) -> Understood | None:
        plain = self._plain.get(" ".join(words))
        found = [Understood(plain, plain.meaning)] if plain else []
        found += [Understood(p, m) for p in self._patterns for m in _meanings(p, words)]
        if not found:
            found = self._corrected(words)
        return found[0] if len({u.meaning.key() for u in found}) == 1 else None

    def _corrected(self, words: list[str]) -> list[Understood]:
        """The last of several phrases of one group parted by the word for a correction."""
        at = [i for i, word in enumerate(words) if word in self._correction]
        if not at:
            return []
        last = self._find(words[at[-1] + 1 :])
        first = self._find(words[: at[-1]])
        if (
            last is None
            or first is None
            or not (last.phrase.corrects and first.phrase.group == last.phrase.group)
        ):
            return []
        slots = {"corrected": True, **last.meaning.slots}
        return [Understood(last.phrase, Meaning(last.meaning.intent, slots))]


def _meanings(phrase: Phrase, words: Sequence[str]) -> Iterator[Meaning]:
    slots = {"{" + name + "}": slot for name, slot in phrase.slots}
    for values in _bindings(phrase.words(), list(words), slots):
        filled = _fill(phrase.meaning.slots, values)
        if filled is not None:
            folded = _fold(filled)
            if folded is not None:
                yield Meaning(phrase.meaning.intent, folded)


def _bindings(tokens: list[str], words: list[str], slots: Mapping[str, Slot]) -> Iterator[dict[str, Any]]:
    """Every way in which the words fit the tokens, as values of the slots."""
    if not tokens:
        if not words:
            yield {}
        return
    token, rest = tokens[0], tokens[1:]
    if token not in slots:
        if words and words[0] == token:
            yield from _bindings(rest, words[1:], slots)
        return
    for size in range(1, len(words) - len(rest) + 1):
        value = slots[token].value(words[:size])
        if value is None:
            continue
        for bound in _bindings(rest, words[size:], slots):
            if bound.get(token, value) == value:
                yield {token: value, **bound}


def _fill(template: Any, values: Mapping[str, Any]) -> Any:  # noqa: ANN401 - JSON in, JSON out
    """The template with every `{name}` replaced by its value."""
    if isinstance(template, str):
        return values.get(template, template)
    if isinstance(template, Mapping):
        return {_fill(key, values): _fill(value, values) for key, value in template.items()}
    if isinstance(template, list | tuple):
        return [_fill(item, values) for item in template]
    return template


def _fold(slots: dict[str, Any]) -> dict[str, Any] | None:
    """Contacts in two groups: one list where both have one state, else one list for each state.

    None where a contact is named in both groups.
    """
    groups = slots.pop(_FOLDED, None)
    if groups is None:
        return slots
    labels = [label for listed, _ in groups for label in listed]
    if len(set(labels)) < len(labels):
        return None
    states = dict.fromkeys(state for _, state in groups)
    if len(states) == 1:
        return {**slots, "contacts": labels, "state": next(iter(states))}
    return {**slots, **{state: [n for listed, s in groups if s == state for n in listed] for state in states}}


@lru_cache(maxsize=8)
def _doubts(language: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    kinds = table("doubts", language)["kinds"]
    return tuple((kind, tuple(words.split())) for kind, said in kinds.items() for words in said)


def doubt_in(
    words: Sequence[str], phrase_words: frozenset[str] = frozenset(), language: str = DEFAULT
) -> tuple[str, str] | None:
    """The first kind of doubt in a sentence and the words that show it; None when there is none.

    Kinds: denial, question, hearsay, hedge, wish, past, later. Words of the phrases themselves show nothing,
    except a denial, and words that make a question where they stand first.
    """
    found = _first_doubt(words, phrase_words, language)
    if found and found[0] == "denial":
        return found
    for kind, openers in table("doubts", language)["first"].items():
        if words and words[0] in openers:
            return str(kind), words[0]
    return found


def _first_doubt(words: Sequence[str], phrase_words: frozenset[str], language: str) -> tuple[str, str] | None:
    for kind, said in _doubts(language):
        for at in range(len(words) - len(said) + 1):
            shown = kind == "denial" or not set(said) <= phrase_words
            if shown and tuple(words[at : at + len(said)]) == said:
                return kind, " ".join(said)
    return None
