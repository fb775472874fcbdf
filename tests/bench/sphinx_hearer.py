"""PocketSphinx behind the door of our own hearer, as a second recogniser to compare with.

A strict grammar of the same phrases over the American model that its package carries; words that its dictionary
lacks get our pronunciations. What it hears is taken: a grammar of PocketSphinx has no measure of doubt.
Needs the package `pocketsphinx` (`pip install .[bench]`).
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from speech.audio import RATE, load_clip
from speech.hearing import Hearing
from speech.lexicon import Lexicon
from speech.phrase import Phrase
from speech.refusals import ClipRefused


class SphinxHearer:
    """Hears one of these phrases in every clip, or nothing."""

    def __init__(self, phrases: Sequence[Phrase], grammar: Path) -> None:
        import pocketsphinx

        self._meaning = {phrase.text: phrase.meaning for phrase in phrases}
        lines = " |\n  ".join(sorted(self._meaning))
        grammar.write_text(f"#JSGF V1.0;\ngrammar said;\npublic <said> =\n  {lines};\n", encoding="utf-8")
        self._decoder: Any = pocketsphinx.Decoder(lm=None, samprate=RATE, loglevel="FATAL")
        lexicon = Lexicon()
        for word in sorted({word for text in self._meaning for word in text.split()}):
            if self._decoder.lookup_word(word) is None:
                self._decoder.add_word(word, " ".join(lexicon.sounds(word)[0]), update=False)
        self._decoder.add_jsgf_file("said", str(grammar))
        self._decoder.activate_search("said")

    def hear(self, clip: bytes, name: str = "") -> Hearing:
        """The hearing of one clip, as `speech.hearing.Hearer` gives it."""
        try:
            sound = load_clip(clip)
        except ClipRefused as refusal:
            return Hearing(name, "refused", str(refusal), kind="clip")
        self._decoder.start_utt()
        self._decoder.process_raw(sound.samples.tobytes(), full_utt=True)
        self._decoder.end_utt()
        found = self._decoder.hyp()
        text = found.hypstr if found else ""
        seconds = len(sound.samples) / RATE
        meaning = self._meaning.get(text)
        if meaning is None:
            return Hearing(name, "refused", "nothing", nearest=text, audio_s=seconds)
        return Hearing(
            name,
            "heard",
            text=text,
            intent=meaning.intent,
            slots=dict(meaning.slots),
            nearest=text,
            audio_s=seconds,
        )
