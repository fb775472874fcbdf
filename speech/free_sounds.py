"""What speech is like when no phrase is expected: the same for every set of phrases, so loaded once, and for good."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from speech import phones
from speech.lexicon import FILLER, Pronunciations
from speech.lexicon_graph import word_graph
from speech.loaded_graphs import LoadedGraphs
from speech.model_folder import ModelFolder
from speech.recogniser import Graphs, Recogniser
from speech.word_graph import among_phones, phone_loop

WHOLE: Final = {
    **{f"endpoint.rule{n}.min-trailing-silence": "90" for n in (2, 3, 4)},
    "endpoint.rule5.min-utterance-length": "90",
    "lattice-beam": "0.5",
    "frames-per-chunk": "150",  # Vosk's 20 give the same scores for up to twice the work
}
"""Options with which a sound is heard as one utterance, however long its pauses."""

Spoken = tuple[tuple[str, ...], ...]
"""Pronunciations of one word, as values that can be remembered."""


@dataclass(frozen=True)
class FreeSounds:
    """`free`: any sounds; `stop`: the stop word among any sounds."""

    free: Recogniser
    stop: Recogniser


def phone_words() -> Pronunciations:
    """One made-up word for each sound, for the free loop."""
    return {f"#{sound.lower()}": [[sound]] for sound in phones.ARPABET}


@lru_cache(maxsize=4)
def free_sounds(model: ModelFolder, stop_word: str, spoken: Spoken) -> FreeSounds:
    """The two graphs over an acoustic model."""
    sounds = phone_words()
    said = {stop_word: [list(one) for one in spoken], FILLER: [["SPN"]]}
    graphs = Graphs(model, *word_graph(sounds | said), LoadedGraphs(2))
    free = graphs.recogniser("free", phone_loop(sounds), **WHOLE, beam="8", max_active="200", min_active="20")
    stop = graphs.recogniser("stop", among_phones(sounds, stop_word), **WHOLE, beam="10", max_active="400")
    return FreeSounds(free, stop)
