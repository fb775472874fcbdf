"""The sounds the acoustic model knows: silence, a filler and the 39 of ARPAbet.

Each sound owns two outputs of the network: 2 i for its first frame of 30 ms, 2 i + 1 for every further
one (Kaldi's chain topology without context). In the decoding graph a sound has four forms by its place
in the word (begin, end, internal, single), which share the outputs and give exact word times.
"""

from typing import Final

ARPABET: Final = (  # noqa: SIM905 - a table is read by eye
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH"
).split()
SOUNDS: Final = ["SIL", "SPN", *ARPABET]
OUTPUTS: Final = 2 * len(SOUNDS)
_PLACES: Final = (("B", "begin"), ("E", "end"), ("I", "internal"), ("S", "singleton"))


def _positional() -> tuple[list[str], list[tuple[int, int]], list[str]]:
    names, outputs, kinds = ["SIL"], [(0, 1)], ["nonword"]
    for index, sound in enumerate(SOUNDS[1:], start=1):
        for letter, kind in _PLACES:
            names.append(f"{sound}_{letter}")
            outputs.append((2 * index, 2 * index + 1))
            kinds.append(kind)
    return names, outputs, kinds


NAMES, OUTPUT_PAIRS, KINDS = _positional()
NUMBERS: Final = {name: index for index, name in enumerate(NAMES, start=1)}


def enter(number: int) -> int:
    """Transition id of the first frame of phone `number` (one-based)."""
    return 2 * number


def stay(number: int) -> int:
    """Transition id of every further frame of phone `number` (one-based)."""
    return 2 * number - 1


def placed(sounds: list[str]) -> list[int]:
    """Phone numbers of one pronunciation, each sound in the form of its place in the word."""
    last = len(sounds) - 1
    places = ["S"] if not last else ["B", *["I"] * (last - 1), "E"]
    return [NUMBERS[f"{sound}_{place}"] for sound, place in zip(sounds, places, strict=True)]
