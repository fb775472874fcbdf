"""Where the words of one language lie, and the tables read from them.

No word of English stands in Python: a second language is a folder beside `phrases/en`.
"""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import yaml

from speech.refusals import PhrasesRefused

PHRASES: Final = Path(__file__).parent / "phrases"
DEFAULT: Final = "en"


@lru_cache(maxsize=64)
def table(name: str, language: str = DEFAULT) -> Mapping[str, Any]:
    """The YAML table `name` of a language; raises PhrasesRefused when it is missing or no mapping."""
    path = PHRASES / language / f"{name}.yaml"
    try:
        found = yaml.safe_load(path.read_text(encoding="utf-8"))
    except FileNotFoundError as missing:
        raise PhrasesRefused(f"language {language!r} has no table {name!r}") from missing
    if not isinstance(found, dict):
        raise PhrasesRefused(f"table {name!r} of language {language!r} is not a mapping")
    return found


def groups(language: str = DEFAULT) -> list[str]:
    """Names of the tables that hold phrases, in the order of the folder."""
    names = [path.stem for path in sorted((PHRASES / language).glob("*.yaml"))]
    return [name for name in names if "phrases" in table(name, language)]
