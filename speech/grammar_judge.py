"""Deciding with a model whose sounds are not ours: Vosk's run-time grammar instead of our own graphs.

Such a model brings its own lexicon, so neither the phone loop nor exact graphs can be built for it. What is
left of the rule: the words must be exactly a phrase although competitor words and `[unk]` were allowed beside
them, the least sure word must be over a threshold, and two other speeds must mean the same. It refuses more.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

import vosk

from speech.competitors import Rules
from speech.decision import Decision, Questions
from speech.lexicon import FILLER
from speech.phrase import Phrase
from speech.recogniser import RATE, BestPath, Samples, Word, at_speed
from speech.second_voice import second_voice
from speech.word_graph import SILENT, WordGraph, exact_graph

SPEEDS: Final = (0.93, 1.08)
STRICT: Final = 0.8
WIDE: Final = 0.5


def unknown_words(loaded: Any, words: Iterable[str]) -> set[str]:  # noqa: ANN401 - the library has no types
    """Words the model's lexicon lacks; Vosk would drop them from a grammar with only a warning."""
    return {word for word in words if loaded.vosk_model_find_word(word) < 0}


def unheard(loaded: Any, words: set[str], rules: Rules) -> set[str]:  # noqa: ANN401 - the library has no types
    """What a model lacks to hear these words: words, and denials to tell a copula among them from."""
    lacking = unknown_words(loaded, words)
    for copula in words & rules.copula:
        for denials in (rules.denials, rules.contracted - rules.disagrees.get(copula, frozenset())):
            unknown = unknown_words(loaded, denials)
            lacking |= unknown if unknown == denials else set()
    return lacking


def neighbours(graph: WordGraph) -> Iterator[str]:
    """Every two words that may follow each other, which is what a run-time grammar keeps of a phrase."""
    for state in range(len(graph.ends)):
        for (word, to), cost in graph.arcs[state].items():
            if word == SILENT or cost:
                continue
            onward = {w for s in graph.after_silence(to) for w, _ in graph.arcs[s] if w}
            yield from (f"{word} {other}" for other in sorted(onward))
            yield word


class GrammarJudge:
    """The same questions as `decision.Judge`, answered through a run-time grammar."""

    def __init__(self, loaded: Any, phrases: Sequence[Phrase], rules: Rules) -> None:  # noqa: ANN401 - no types
        self.graph = exact_graph(phrases, rules.correction)
        self._loaded = loaded
        unknown = unknown_words(loaded, self.graph.words() | rules.words())
        entries = dict.fromkeys([*neighbours(self.graph), *sorted(rules.words())])
        known = [entry for entry in entries if not unknown & set(entry.split())]
        self._grammar = json.dumps([*known, FILLER])

    def listener(self) -> Any:  # noqa: ANN401 - the library has no types
        """A recogniser of its own for one stream."""
        return vosk.KaldiRecognizer(self._loaded, RATE, self._grammar)

    def _best(self, samples: Samples) -> BestPath:
        listener = self.listener()
        listener.SetWords(enable_words=True)
        parts = [listener.Result()] if listener.AcceptWaveform(samples.tobytes()) else []
        found = [w for part in [*parts, listener.FinalResult()] for w in json.loads(part).get("result", ())]
        words = tuple(Word(w["word"], w["start"], w["end"], w["conf"]) for w in found)
        return BestPath(" ".join(word.word for word in words), 0.0, words)

    def decide(self, samples: Samples, asked: Questions) -> Decision:
        """Decide one utterance."""
        best, means = self._best(samples), asked.means
        if asked.stops(best.text):
            return Decision(best.text, "stop", best, None, best.words)
        if not best.words or means(best.text) is None:
            return Decision(None, "competitor" if best.words else "nothing", best)
        sure = min(word.conf for word in best.words)
        if sure < (WIDE if asked.care(best.text) == "wide" else STRICT):
            return Decision(None, "unlike", best, confidence=sure)
        if not asked.restricts(best.text) and second_voice(samples):
            return Decision(None, "two voices", best, confidence=sure)
        if any(means(self._best(at_speed(samples, speed)).text) != means(best.text) for speed in SPEEDS):
            return Decision(None, "speeds differ", best, confidence=sure)
        return Decision(best.text, "all agree", best, words=best.words, confidence=sure)
