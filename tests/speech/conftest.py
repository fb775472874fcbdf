"""One hearer over the sample clips' phrases, built once."""

import pytest

from speech.hearing import Hearer
from speech.phrase import load_phrases
from tests.speech.samples import CLIPS


@pytest.fixture(scope="session")
def hearer():
    return Hearer(load_phrases(CLIPS / "phrases.jsonl"))


@pytest.fixture(scope="session")
def clip():
    """Bytes of a sample clip by its name."""
    return lambda name: (CLIPS / f"{name}.ogg").read_bytes()
