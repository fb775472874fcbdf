"""Why nothing was taken, in a sentence that can be spoken back and that names what is missing."""

from collections.abc import Sequence

from speech.decision import Decision
from speech.language import DEFAULT, table
from speech.meaning import doubt_in
from speech.word_graph import WordGraph

_MOST_CHOICES = 4
_CLEAR_ENOUGH = -0.6  # Q under which the words of a competitor are guesses in noise and say nothing


class Reasons:
    """Explains refusals over one set of phrases."""

    def __init__(self, graph: WordGraph, language: str = DEFAULT) -> None:
        self._graph, self._language = graph, language
        self._phrase_words = frozenset(graph.words())
        self._said = table("reasons", language)

    def sentence(self, key: str, **filled: object) -> str:
        """The sentence of a reason."""
        return str(self._said[key]).format(**filled)

    def of(self, decision: Decision) -> tuple[str, str]:
        """Kind and sentence of the reason for which a decision took nothing."""
        said = decision.best.text
        if decision.why == "nothing" or not said:
            return "nothing", self.sentence("nothing")
        if decision.why == "too near":
            return "near", self._either(said.split(), decision.rival.split())
        if decision.why == "two voices":
            return "voices", self.sentence("voices")
        if decision.why == "competitor" and (decision.quality or 0.0) >= _CLEAR_ENOUGH:
            return self._of_words(said.split())
        kind = "speeds" if decision.why == "speeds differ" else "unlike"
        return kind, self.sentence(kind)

    def _of_words(self, words: Sequence[str]) -> tuple[str, str]:
        doubt = doubt_in(words, self._phrase_words, self._language)
        following = self._graph.following(words)
        said = " ".join(words)
        if following and not (doubt and doubt[0] == "denial"):
            return "missing", self._missing(said, following)
        if doubt:
            kind, shown = doubt
            return kind, self.sentence(kind, words=shown)
        return "competitor", self.sentence("competitor", said=said)

    def _either(self, heard: Sequence[str], rival: Sequence[str]) -> str:
        """Both wordings from the first word in which they differ, behind what they have in common."""
        same = next((i for i, (a, b) in enumerate(zip(heard, rival, strict=False)) if a != b), -1)
        at = min(len(heard), len(rival)) - 1 if same < 0 else same
        said, one, other = (" ".join(part) for part in (heard[:at], heard[at:], rival[at:]))
        return self.sentence("near", said=f"{said}: " if said else "", one=one, other=other)

    def _missing(self, said: str, following: set[str]) -> str:
        if len(following) > _MOST_CHOICES:
            return self.sentence("missing_more", said=said)
        choices = f" {self._said['or']} ".join(sorted(following))
        return self.sentence("missing", said=said, choices=choices)
