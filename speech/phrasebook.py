"""The phrases of a language, read from its YAML tables: what may be said at which step, and the card.

A wording may hold `[optional words]`; `deny` lists the wordings that say the same is not so.
"""

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final

from speech import language as words_of_language
from speech.language import DEFAULT
from speech.phrase import Meaning, Phrase
from speech.refusals import PhrasesRefused
from speech.slots import Names, Slot, load_slots

_OPTIONAL: Final = re.compile(r"\[([^\]]+)\]")
_BRACES: Final = re.compile(r"\{([a-z_0-9]+)\}")
EVERY: Final = "every"


def wordings(template: str) -> list[str]:
    """Every text of a template: each optional part left out and kept."""
    parts = _OPTIONAL.split(template)
    choices = [(part,) if i % 2 == 0 else ("", part) for i, part in enumerate(parts)]
    texts = (" ".join("".join(kept).split()) for kept in itertools.product(*choices))
    return list(dict.fromkeys(texts))


def _entries(language: str) -> Iterator[tuple[str, Mapping[str, Any], Mapping[str, Any]]]:
    for group in words_of_language.groups(language):
        found = words_of_language.table(group, language)
        for entry in found["phrases"]:
            yield group, found, entry


def _phrase(
    text: str, group: Mapping[str, Any], entry: Mapping[str, Any], slots: Mapping[str, Slot], *, denied: bool
) -> Phrase:
    names = _BRACES.findall(text)
    missing = [name for name in names if name not in slots]
    if missing:
        raise PhrasesRefused(f"phrase {text!r} uses a slot that is not defined: {missing[0]}")
    meant = {"negated": True, **entry["slots"]} if denied else dict(entry["slots"])
    return Phrase(
        text=text,
        meaning=Meaning(entry["intent"], meant),
        slots=tuple((name, slots[name]) for name in dict.fromkeys(names)),
        care=entry.get("care", "strict"),
        group=group["group"],
        corrects=bool(group.get("corrections")),
        stops=bool(entry.get("stops")),
        restricts=denied or bool(entry.get("restricts")),
    )


def all_phrases(
    contacts: Sequence[str] = (), language: str = DEFAULT, names: Names = MappingProxyType({})
) -> tuple[Phrase, ...]:
    """Every phrase of every step, with the labels of a chart (default: 1 to 24) and a site's names."""
    slots = load_slots(contacts, language, names)
    return tuple(
        _phrase(text, group, entry, slots, denied=denied)
        for _, group, entry in _entries(language)
        for denied, templates in ((False, entry["say"]), (True, entry.get("deny", ())))
        for template in templates
        for text in wordings(template)
        if _sayable(text, slots)
    )


def _sayable(text: str, slots: Mapping[str, Slot]) -> bool:
    """False for a slot without values, such as labels with letters on a chart that has none."""
    return all(slots[name].automaton().arcs for name in _BRACES.findall(text) if name in slots)


def phrases_for(
    intents: Sequence[str] = (),
    contacts: Sequence[str] = (),
    step: str = "",
    language: str = DEFAULT,
    names: Names = MappingProxyType({}),
) -> tuple[Phrase, ...]:
    """The phrases of these intents (none given: all), or of one step of the procedure.

    The talk's own words (`control`) are always among them: whoever may speak may say stop.
    Raises PhrasesRefused for an intent or a step that the language does not have.
    """
    book = all_phrases(contacts, language, names)
    known = {phrase.meaning.intent for phrase in book}
    unknown = sorted(set(intents) - known)
    if unknown:
        raise PhrasesRefused(f"no phrase means {unknown[0]!r}")
    allowed = _groups_of(step, language) if step else set(words_of_language.groups(language))
    return tuple(
        phrase
        for phrase in book
        if phrase.meaning.intent == "control"
        or (phrase.group in allowed and (not intents or phrase.meaning.intent in intents))
    )


def steps(language: str = DEFAULT) -> list[str]:
    """The steps that phrases are given for, in the order of first mention."""
    named = (step for _, group, _ in _entries(language) for step in group["steps"])
    return [step for step in dict.fromkeys(named) if step != EVERY]


def _groups_of(step: str, language: str) -> set[str]:
    if step not in steps(language):
        raise PhrasesRefused(f"no phrases are given for a step {step!r}")
    return {group["group"] for _, group, _ in _entries(language) if {step, EVERY} & set(group["steps"])}


@lru_cache(maxsize=8)
def care_by_intent(language: str = DEFAULT) -> Mapping[str, str]:
    """`wide` for intents of which no phrase needs the strict threshold, else `strict`."""
    care: dict[str, str] = {}
    for _, _, entry in _entries(language):
        if entry.get("care", "strict") == "strict" or care.get(entry["intent"]) == "strict":
            care[entry["intent"]] = "strict"
        else:
            care[entry["intent"]] = "wide"
    return care


@lru_cache(maxsize=8)
def stop_meanings(language: str = DEFAULT) -> frozenset[str]:
    """Keys of the meanings that stop the work, heard on weak evidence."""
    return frozenset(
        Meaning(entry["intent"], entry["slots"]).key()
        for _, _, entry in _entries(language)
        if entry.get("stops")
    )


def card(step: str = "", contacts: Sequence[str] = (), language: str = DEFAULT) -> str:
    """The phrase card: what may be said at a step, one wording a line, and the bounds of its slots."""
    chosen = phrases_for((), contacts, step, language)
    lines, used = [], {}
    for group, phrases in itertools.groupby(chosen, key=lambda phrase: phrase.group):
        lines += ["", group.replace("_", " ").capitalize(), *(f"  {phrase.text}" for phrase in phrases)]
        used.update({name: slot for phrase in chosen if phrase.group == group for name, slot in phrase.slots})
    lines += ["", "Where braces stand"]
    lines += [f"  {{{name}}}: {slot.bounds()}" for name, slot in used.items()]
    return "\n".join(lines).strip() + "\n"
