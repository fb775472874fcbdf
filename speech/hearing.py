"""A clip and the phrases that may be said go in; a claim or a refusal with its reason comes out."""

import json
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Final

import numpy as np

from speech.activity import QUIET_DBFS, Level, level_of
from speech.audio import RATE, load_clip
from speech.bangs import without_bangs
from speech.competitors import Rules, load_rules
from speech.decision import Deciding, Decision, Judge, Questions, Thresholds, words_needed
from speech.grammar_judge import GrammarJudge, unheard
from speech.language import DEFAULT
from speech.lexicon import Lexicon
from speech.loaded_graphs import load_model
from speech.meaning import Understanding, Understood
from speech.model_folder import ModelFolder, open_model
from speech.phrase import Phrase, split_ambiguous
from speech.phrasebook import stop_meanings
from speech.reasons import Reasons
from speech.recogniser import Samples, Word
from speech.refusals import ClipRefused, PhrasesRefused
from speech.word_graph import exact_graph

HEARER_VERSION: Final = "2"
"""Goes up with every change of what is taken for a phrase; each record names it."""


@dataclass(frozen=True)
class Hearing:
    """The result for one clip. `heard`: exactly one phrase was said; `refused`: none is taken, and why.

    `kind` names the reason of a refusal in one word; `restricts` is true where the sound holds a stop or a
    denial, which acts even on a refusal. `quality` is Q of the decision in nats a frame, `nearest` what the
    sound resembles most, phrase or not.
    """

    file: str
    verdict: str
    reason: str | None = None
    text: str = ""
    confidence: float = 0.0
    intent: str | None = None
    slots: dict[str, Any] = field(default_factory=dict)
    words: tuple[Word, ...] = ()
    audio_s: float = 0.0
    took_ms: float = 0.0
    notes: tuple[str, ...] = ()
    kind: str = ""
    restricts: bool = False
    quality: float | None = None
    nearest: str = ""

    def to_json(self) -> dict[str, Any]:
        """The object that `limitwitness hear --json` prints."""
        return {
            "file": self.file,
            "verdict": self.verdict,
            "reason": self.reason,
            "text": self.text,
            "confidence": round(self.confidence, 3),
            "intent": self.intent,
            "slots": self.slots,
            "words": [
                {"word": w.word, "start": round(w.start, 2), "end": round(w.end, 2), "conf": round(w.conf, 3)}
                for w in self.words
            ],
            "audio_s": round(self.audio_s, 3),
            "ms": {"total": round(self.took_ms, 1)},
        }


class Hearer:
    """Hears exactly these phrases. Building takes about a second; hearing about a tenth of the clip's length.

    left_out: phrase -> why it cannot be heard. pronounced: word -> the sounds it got from its letters.
    """

    def __init__(
        self,
        phrases: Sequence[Phrase],
        model: str | Path | None = None,
        thresholds: Thresholds | None = None,
        language: str = DEFAULT,
    ) -> None:
        folder, rules = open_model(model), load_rules(language)
        listed, self.left_out = split_ambiguous(phrases)
        self.pronounced: dict[str, str] = {}
        make = self._ours if folder.ours else self._foreign
        self._judge = make(folder, listed, rules, thresholds)
        self._stops = stop_meanings(language)
        self._understanding = Understanding(self.phrases, rules.correction)
        self._reasons = Reasons(self._judge.graph, language)

    def _ours(
        self, folder: ModelFolder, listed: Sequence[Phrase], rules: Rules, thresholds: Thresholds | None
    ) -> Deciding:
        """The full rule: graphs of our own over the model's sounds."""
        lexicon = Lexicon(rules.language)
        self.phrases = self._sayable(listed, lambda words: set(lexicon.pronounce(sorted(words))[1]))
        needed = words_needed(exact_graph(self.phrases, rules.correction), rules)
        pronunciations, silent = lexicon.pronounce(sorted(needed | {rules.stop_word}))
        if silent:
            raise PhrasesRefused(f"no pronunciation for: {' '.join(silent)}")
        self.pronounced = dict(lexicon.guessed)
        return Judge(folder, self.phrases, rules, pronunciations, thresholds)

    def _foreign(
        self, folder: ModelFolder, listed: Sequence[Phrase], rules: Rules, _: Thresholds | None
    ) -> Deciding:
        """A model with sounds and a lexicon of its own: a run-time grammar."""
        loaded = load_model(folder.path)
        self.phrases = self._sayable(listed, lambda words: unheard(loaded, words, rules))
        return GrammarJudge(loaded, self.phrases, rules)

    def _sayable(
        self, phrases: Sequence[Phrase], silent_of: Callable[[set[str]], set[str]]
    ) -> tuple[Phrase, ...]:
        """Phrases all of whose words have a pronunciation; the others are named with the words that lack one."""
        kept = []
        for phrase in phrases:
            silent = silent_of({word for word in phrase.words() if not word.startswith("{")})
            if silent:
                self.left_out[phrase.text] = f"no pronunciation for: {' '.join(sorted(silent))}"
            else:
                kept.append(phrase)
        if not kept:
            raise PhrasesRefused("the phrase list is empty: nothing could be heard")
        return tuple(kept)

    def hear(self, clip: bytes, name: str = "") -> Hearing:
        """The hearing of one clip; a bad clip is refused with its reason, never an exception."""
        began = time.perf_counter()
        try:
            sound = load_clip(clip)
        except ClipRefused as refusal:
            took = 1000 * (time.perf_counter() - began)
            return Hearing(name, "refused", str(refusal), kind="clip", took_ms=took)
        return self.hear_samples(sound.samples, name, began=began, notes=sound.notes)

    def hear_samples(
        self, samples: Samples, name: str = "", began: float | None = None, notes: tuple[str, ...] = ()
    ) -> Hearing:
        """The hearing of 16 kHz mono samples taken as one utterance."""
        began = time.perf_counter() if began is None else began
        level = level_of(samples)
        problem = level.problem()
        found = self._unusable(name, problem, level) if problem else self._decided(name, samples)
        return _with(found, len(samples) / RATE, 1000 * (time.perf_counter() - began), notes)

    def _unusable(self, name: str, problem: str, level: Level) -> Hearing:
        filled = {"level": level.speech_dbfs, "needed": QUIET_DBFS, "share": 100 * level.clipped}
        return Hearing(name, "refused", self._reasons.sentence(problem, **filled), kind=problem)

    def _decided(self, name: str, samples: Samples) -> Hearing:
        steady = without_bangs(np.ascontiguousarray(samples, dtype=np.int16))
        asked = Questions(self._understanding.key, self._care, self.is_stop, self._restricts)
        decision = self._judge.decide(steady, asked)
        understood = self._understanding.of(decision.text) if decision.text else None
        if understood is None:
            kind, sentence = self._reasons.of(decision)
            doubts = kind in ("denial", "hedge")
            return Hearing(
                name,
                "refused",
                sentence,
                kind=kind,
                restricts=doubts,
                quality=decision.quality,
                nearest=decision.best.text,
            )
        return self._heard(name, decision, understood)

    def _heard(self, name: str, decision: Decision, understood: Understood) -> Hearing:
        meaning, sure = understood.meaning, confidence(decision)
        words = tuple(Word(w.word, w.start, w.end, sure) for w in decision.words)
        restricts = decision.why == "stop" or bool(meaning.slots.get("negated"))
        return Hearing(
            name,
            "heard",
            text=decision.text or "",
            confidence=sure,
            intent=meaning.intent,
            slots=json.loads(json.dumps(meaning.slots)),
            words=words,
            restricts=restricts,
            quality=decision.quality,
            nearest=decision.best.text,
        )

    def _care(self, text: str) -> str:
        understood = self._understanding.of(text)
        return understood.phrase.care if understood else "strict"

    def _restricts(self, text: str) -> bool:
        understood = self._understanding.of(text)
        return understood is not None and (
            understood.phrase.restricts or bool(understood.meaning.slots.get("negated"))
        )

    def listener(self) -> Any:  # noqa: ANN401 - the library has no types
        """A recogniser for one stream: partial words and the end of an utterance."""
        return self._judge.listener()

    def is_stop(self, text: str) -> bool:
        """Whether a text is one of the phrases that stop the work."""
        return self._understanding.key(text) in self._stops

    @cached_property
    def listed(self) -> tuple[str, ...]:
        """Every phrase that can be heard, slots in braces."""
        return tuple(phrase.text for phrase in self.phrases)


def confidence(decision: Decision) -> float:
    """How sure a decision is, 0 to 1: Q through a logistic curve; a stop, taken on weak evidence, says 0.5."""
    if decision.confidence is not None:
        return decision.confidence
    if decision.quality is None:
        return 0.5
    return float(1 / (1 + np.exp(-(decision.quality + 0.45) / 0.15)))


def _with(found: Hearing, seconds: float, took_ms: float, notes: tuple[str, ...]) -> Hearing:
    values = {**found.__dict__, "audio_s": seconds, "took_ms": took_ms, "notes": notes}
    return Hearing(**values)
