"""Recordings of people that Debian packages carry, gathered to measure with; nothing of them is shipped.

    python -m speech.training.human_recordings OUT

| package | who | what | licence |
|---|---|---|---|
| `asterisk-core-sounds-en-g722` | a woman, studio | alphabet, digits, numbers, days, prompts | CC BY-SA 3.0 |
| `klettres-data` | two readers | letters (American, British) | GPL |
| `alsa-utils` | a woman | loudspeaker places | GPL |
| `pocketsphinx-testdata` | men | digits, numbers, commands, playing cards | BSD-like |

Writes OUT/*.wav (16 kHz) and OUT/recordings.tsv: group, file, the words said. A package that is not installed is
named and left out. Needs `ffmpeg`.
"""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from speech.spelling import letters
from speech.spoken_values import spoken

_ASTERISK: Final = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
_LETTERS: Final = Path("/usr/share/klettres")
_PLACES: Final = Path("/usr/share/sounds/alsa")
_SPHINX: Final = Path("/usr/share/pocketsphinx/test/data")
_PROMPTS: Final = (  # noqa: SIM905 - a table is read by eye
    "activated added cancelled calling disabled enabled extension goodbye hello location minutes number "
    "removed second seconds sorry time with uppercase lowercase"
).split()
_SENTENCES: Final = {
    "de-activated": "de activated",
    "call-waiting": "call waiting",
    "call-forwarding": "call forwarding",
    "do-not-disturb": "do not disturb",
    "hello-world": "hello world",
    "im-sorry": "i'm sorry",
    "is-in-use": "is in use",
    "is-set-to": "is set to",
    "one-moment-please": "one moment please",
    "speed-dial": "speed dial",
    "telephone-number": "telephone number",
    "you-entered": "you entered",
    "please-try-again": "please try again",
    "if-correct-press": "if this is correct press",
    "invalid": "i am sorry that's not a valid extension please try again",
    "transfer": "please hold while i try that extension",
}
"""Words as the list that the recordings were published with gives them (`core-sounds-en.txt`), where it names them."""
_RAW: Final = {
    "goforward.raw": ("commands", "go forward ten meters"),
    "tidigits/dhd.2934z.raw": ("digits", "two nine three four zero"),
}
_CARDS: Final = (
    "ten of clubs",
    "four queen of clubs",
    "seven of clubs",
    "five five",
    "eight of spades four of clubs seven of hearts",
)
_Found = tuple[str, Path, str]


def _asterisk() -> Iterator[_Found]:
    for value in (*range(21), *range(30, 100, 10)):
        word = spoken(value) if value else "zero"
        yield ("digits" if value < 10 else "numbers"), _ASTERISK / "digits" / f"{value}.g722", word
    for word in ("hundred", "thousand", "million", "minus"):
        yield "numbers", _ASTERISK / "digits" / f"{word}.g722", word
    for word in letters():
        if word not in ("alpha", "juliet"):
            yield "alphabet", _ASTERISK / "phonetic" / f"{word[0]}_p.g722", word
    for letter in "abcdefghijklmnopqrstuvwxyz":
        yield "letters", _ASTERISK / "letters" / f"{letter}.g722", letter
    for name in _PROMPTS:
        yield "prompts", _ASTERISK / f"{name}.g722", name
    for name, words in _SENTENCES.items():
        yield "prompts", _ASTERISK / f"{name}.g722", words


def _others() -> Iterator[_Found]:
    for letter in "abcdefghijklmnopqrstuvwxyz":
        yield "letters", _LETTERS / "en" / "alpha" / f"{letter.upper()}.ogg", letter
        british = "zed" if letter == "z" else letter
        yield "letters", _LETTERS / "en_GB" / "alpha" / f"{letter}.ogg", british
    for depth in ("front", "rear", "side"):
        for side in ("left", "right", "center"):
            yield "commands", _PLACES / f"{depth.title()}_{side.title()}.wav", f"{depth} {side}"
    for name, (group, words) in _RAW.items():
        yield group, _SPHINX / name, words
    for number, words in enumerate(_CARDS, start=1):
        yield "commands", _SPHINX / "cards" / f"{number:03d}.wav", words


def gather(out: Path) -> tuple[int, list[str]]:
    """How many recordings were written, and the files that are not there."""
    out.mkdir(parents=True, exist_ok=True)
    lines, absent = list[str](), list[str]()
    for group, path, words in (*_asterisk(), *_others()):
        if not path.is_file():
            absent.append(str(path))
            continue
        name = f"{group}_{len(lines):03d}.wav"
        form = ["-f", "s16le", "-ar", "16000", "-ac", "1"] if path.suffix == ".raw" else []
        wanted = ["-ar", "16000", "-ac", "1", str(out / name)]
        subprocess.run(["ffmpeg", "-v", "error", "-y", *form, "-i", str(path), *wanted], check=True)  # noqa: S603, S607 - our own arguments
        lines.append(f"{group}\t{name}\t{words}\n")
    (out / "recordings.tsv").write_text("".join(lines), encoding="utf-8")
    return len(lines), absent


if __name__ == "__main__":
    written, missing = gather(Path(sys.argv[1]))
    sys.stdout.write(f"{written} recordings; not there: {' '.join(missing) or 'none'}\n")
