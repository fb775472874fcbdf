"""Whether a sound is one of the phrases: hearings of the same samples that must agree.

1. Competitors. The best path through the phrases and their competitors MUST be a phrase.
2. Phone loop. Q, the score of that path less that of a free loop of sounds, for each frame of 30 ms from the
   first word to the end of the last, MUST be over a threshold: strict where a slip makes danger, wide where
   it is harmless, strict for a single word.
3. What it could be taken for. The phrase MUST lead every listed phrase that means something else, and every
   sentence made from a phrase by turning a state round or weakening the verb (`turned`), by so many nats each.
   One short word decides there; Q, which averages over the whole phrase, does not see it. Where a slip is harmless
   and nothing is turned round, the lead may be shorter: one "oh" more in a spelled tag stands in the read-back.
   A copula that lasts as long as its contracted denial would MUST lead that denial by more (`hidden_denial`).
4. Other speeds. The exact phrases heard at 0.93 and 1.08 of the speed MUST mean the same, and lead what they could be
   taken for by half of what 3 asks for: a deciding word that was guessed is guessed otherwise at another speed.
5. Stop. The exact phrases say stop, and "stop" among free sounds scores hardly worse than free sounds alone; or the
   best path of 1 is a stop, with a lower bar of Q. Both act before all else and on weak evidence, because a stop only
   interrupts.
6. Two voices. Only one voice MUST be heard, except where the phrase restricts (`second_voice`): which of the two said
   it, and whether both voices together made one of its words, cannot be told.

Noise alone never passes 2; a question, a wish or "nearly" never passes 1. The figures behind the thresholds
stand in training/README.md.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, Protocol

from speech.competitors import Rules, add_competitors
from speech.free_sounds import WHOLE, free_sounds, phone_words
from speech.hidden_denial import MOST_LEAD, Copulas
from speech.lexicon import FILLER, Pronunciations
from speech.lexicon_graph import word_graph
from speech.model_folder import ModelFolder
from speech.phrase import Phrase
from speech.recogniser import BestPath, Graphs, Samples, Word, at_speed
from speech.second_voice import second_voice
from speech.sooner import sooner
from speech.turned import load_turns, with_turned
from speech.word_graph import WordGraph, exact_graph

FRAME_S: Final = 0.03
FEWEST_FRAMES: Final = 5
ALTERNATIVES: Final = 30
SPEEDS: Final = (0.93, 1.08)
LIVE: Final = {
    "beam": "11",
    "lattice_beam": "0.5",
    "frames_per_chunk": "6",  # words are known 0.1 s sooner than by Vosk's 20, for twice the work
    "endpoint.rule2.min_trailing_silence": "0.15",  # only where a phrase may end; who goes on is heard as one
    "endpoint.rule3.min_trailing_silence": "0.4",
}
"""Options of the recogniser that follows a stream; it decides nothing."""


@dataclass(frozen=True)
class Thresholds:
    """The bars of Q (nats a frame), of the leads and of the stop path (nats).

    Q of a stop: of 3,000 clips the best path of 1 was a stop, without what "stop" among free sounds asks for, in three.
    All three were stops (-0.32, -0.39, and -0.62 under an equal voice). `other_speed`: the share of each lead at
    another speed.
    """

    strict: float = -0.35
    wide: float = -0.6
    one_word: float = -0.25
    listed_lead: float = 3.0
    wide_lead: float = 1.5
    turned_lead: float = 1.5
    other_speed: float = 0.5
    stop: float = -4.0
    stop_quality: float = -0.7


@dataclass(frozen=True)
class Decision:
    """What was decided. `text` is the phrase taken, or None; `best` is what the sound resembles most."""

    text: str | None
    why: str
    best: BestPath
    quality: float | None = None
    words: tuple[Word, ...] = ()
    confidence: float | None = None
    rival: str = ""
    """What was too near, where a phrase did not lead what it could be taken for."""


Means = Callable[[str], str | None]
"""A text -> the key of its meaning, or None when it is no phrase."""


@dataclass(frozen=True)
class Questions:
    """What a decision asks about a text: its meaning, `strict` or `wide`, whether it stops, whether it restricts."""

    means: Means
    care: Callable[[str], str]
    stops: Callable[[str], bool]
    restricts: Callable[[str], bool]


class Deciding(Protocol):
    """Decides utterances over one set of phrases."""

    graph: WordGraph

    def decide(self, samples: Samples, asked: Questions) -> Decision:
        """Whether the sound is one of the phrases."""

    def listener(self) -> Any:  # noqa: ANN401 - the library has no types
        """A recogniser of its own for one stream: partial words, end of utterance."""


class Judge:
    """The hearings over one set of phrases, loaded once."""

    def __init__(
        self,
        model: ModelFolder,
        phrases: Sequence[Phrase],
        rules: Rules,
        pronunciations: Pronunciations,
        thresholds: Thresholds | None = None,
    ) -> None:
        self.thresholds = thresholds or Thresholds()
        self.graph = exact_graph(phrases, rules.correction)
        spoken = tuple(tuple(said) for said in pronunciations[rules.stop_word])
        loops = free_sounds(model, rules.stop_word, spoken)
        self.free, self.stop = loops.free, loops.stop
        self._graphs = Graphs(model, *word_graph(pronunciations | phone_words() | {FILLER: [["SPN"]]}))
        self._sooner = sooner(model)
        self.live = self._graphs.recogniser("live", self.graph, self._sooner.model.path, **LIVE)
        self._turns = load_turns(rules.language)
        self._copulas = Copulas.of(rules)
        near = WHOLE | {"lattice-beam": str(max(self.thresholds.listed_lead, MOST_LEAD) + 1)}
        phrases_and_turned = with_turned(self.graph, self._turns)
        self.phrases = self._graphs.recogniser(
            "phrases", phrases_and_turned, **near, beam="14", max_active="7000"
        )
        rivals = add_competitors(exact_graph(phrases, rules.correction), rules)
        self.rivals = self._graphs.recogniser("rivals", rivals, **WHOLE, beam="11", max_active="1500")

    def decide(self, samples: Samples, asked: Questions) -> Decision:
        """Decide one utterance; the steps are numbered as in the module's docstring."""
        means = asked.means
        (free,) = self.free.best_paths(samples)
        paths = self.phrases.best_paths(samples, ALTERNATIVES)
        exact = _phrase_of(paths, means)
        if self._is_stop(samples, exact, free, asked.stops):  # (5)
            placed = self.phrases.placed(samples, exact.text, ALTERNATIVES)
            return Decision(exact.text, "stop", placed, None, placed.words)
        best = self.rivals.best_path(samples)
        if not best.words:
            return Decision(None, "nothing", best)
        quality = quality_of(best, free)
        if means(best.text) is None:  # (1)
            return Decision(None, "competitor", best, quality)
        if asked.stops(best.text) and quality > self.thresholds.stop_quality:  # (5)
            return Decision(best.text, "stop", best, quality, best.words)
        if quality < self._bar(best.text, asked.care(best.text)):  # (2)
            return Decision(None, "unlike", best, quality)
        if not asked.restricts(best.text) and second_voice(samples):  # (6)
            return Decision(None, "two voices", best, quality)
        rival = self._too_near(best, paths, asked) or self._hidden_denial(samples, best)  # (3)
        if rival:
            return Decision(None, "too near", best, quality, rival=rival)
        other = self._otherwise(samples, best, asked)  # (4)
        if other is not None:
            return Decision(None, "too near" if other else "speeds differ", best, quality, rival=other)
        return Decision(best.text, "all agree", best, quality, best.words)

    def listener(self) -> Any:  # noqa: ANN401 - the library has no types
        """A recogniser of its own for one stream: partial words, end of utterance."""
        return self.live.listener()

    def _too_near(
        self, best: BestPath, paths: Sequence[BestPath], asked: Questions, share: float = 1.0
    ) -> str:
        """The listed phrase of another meaning, or the turned one, that scores nearly as well; or nothing.

        share: of the leads that is asked for.
        """
        meaning, bars = asked.means(best.text), self.thresholds
        usual = bars.wide_lead if asked.care(best.text) == "wide" else bars.listed_lead
        for path in paths:
            other = asked.means(path.text)
            harms = asked.stops(path.text) or self._turns.harms(best.text, path.text)
            lead = bars.listed_lead if harms else usual
            if other is None:
                lead = bars.turned_lead if harms else -math.inf
            if other != meaning and best.score - path.score < share * lead:
                return path.text
        return ""

    def _otherwise(self, samples: Samples, best: BestPath, asked: Questions) -> str | None:
        """What it is nearly as well heard as at another speed; an empty text where another phrase is heard there."""
        for speed in SPEEDS:
            paths = self.phrases.best_paths(at_speed(samples, speed), ALTERNATIVES)
            again = _phrase_of(paths, asked.means)
            if asked.means(again.text) != asked.means(best.text):
                return ""
            rival = self._too_near(again, paths, asked, self.thresholds.other_speed)
            if rival:
                return rival
        return None

    def _hidden_denial(self, samples: Samples, best: BestPath) -> str:
        """The sentence with a contracted denial, where a long copula may hide it and it scores nearly as well."""
        for at, lead in self._copulas.lingering(best.words):
            denied = self._copulas.sentences(best.words, at)
            paths = self.phrases.among(samples, [best.text, *denied], ALTERNATIVES)
            scores = {path.text: path.score for path in paths}
            if best.text not in scores:
                return denied[0]
            bar = scores[best.text] - lead
            near = [sentence for sentence in denied if scores.get(sentence, -math.inf) > bar]
            if near:
                return max(near, key=lambda sentence: scores[sentence])
        return ""

    def _bar(self, text: str, care: str) -> float:
        bar = self.thresholds.wide if care == "wide" else self.thresholds.strict
        return max(bar, self.thresholds.one_word) if " " not in text else bar

    def _is_stop(
        self, samples: Samples, exact: BestPath, free: BestPath, stops: Callable[[str], bool]
    ) -> bool:
        if not stops(exact.text):
            return False
        return self.stop.best_paths(samples)[0].score - free.score > self.thresholds.stop


def _phrase_of(paths: Sequence[BestPath], means: Means) -> BestPath:
    """The best of these paths that is a phrase; the best of all where none is."""
    return next((path for path in paths if means(path.text) is not None), paths[0])


def quality_of(path: BestPath, free: BestPath) -> float:
    """Q in nats a frame: how much less likely the words are than free sounds; about 0.1 for a clear phrase."""
    frames = (path.words[-1].end - path.words[0].start) / FRAME_S
    return (path.score - free.score) / max(FEWEST_FRAMES, frames)


def words_needed(graph: WordGraph, rules: Rules) -> set[str]:
    """Every word the graphs hold: those of the phrases, of the competitors and of the turned phrases."""
    return graph.words() | rules.words() | load_turns(rules.language).words()
