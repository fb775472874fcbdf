"""What a shipped procedure shows and says reads as sentences."""

from pathlib import Path

import pytest

import service.procedures
from service.definitions.procedure import load_procedure

FILES = sorted(Path(service.procedures.__file__).parent.glob("*.yaml"))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_caution_and_instruction_is_whole_sentences(file):
    steps = load_procedure(file.read_bytes()).steps
    texts = [text for step in steps for text in (step.say, step.why, *step.cautions)]
    assert [text for text in texts if not (text[0].isupper() and text.endswith("."))] == []


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_instruction_is_said_in_at_most_twelve_words(file):
    assert [step.say for step in load_procedure(file.read_bytes()).steps if len(step.say.split()) > 12] == []
