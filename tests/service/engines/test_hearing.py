import json

import pytest

from service.engines.hearing import SpeechHearing
from service.ports import Vocabulary
from tests.builders import SAMPLES, clip

CLIPS = SAMPLES / "clips" / "rw-204"
WORDS = Vocabulary(("9", "3B", "17", "5A"), ("motor supply",), ("drain pump",))
ear = SpeechHearing()


def hear(name: str, *intents: str) -> dict:
    return dict(ear.hear((CLIPS / f"{name}.ogg").read_bytes(), intents, WORDS))


def test_a_clip_is_heard_with_what_its_step_allows():
    heard = hear("9_3b_open", "contact")
    assert heard["verdict"] == "heard"
    assert heard["intent"] == "contact"


def test_what_its_step_does_not_allow_is_refused_and_not_bent_into_something_else():
    assert hear("9_3b_open", "tag")["verdict"] == "refused"


def test_a_stop_is_heard_whatever_the_step_asks_for():
    assert hear("stop_work", "tag")["slots"] == {"action": "stop_work"}


def test_an_intent_that_the_language_lacks_is_passed_over():
    assert hear("stop_work", "tag", "never_heard_of")["verdict"] == "heard"


@pytest.mark.parametrize("bad", [b"", b"RIFF", clip(0.5)])
def test_a_bad_or_silent_clip_is_a_refused_hearing_and_never_an_exception(bad):
    heard = ear.hear(bad, ["contact"], WORDS)
    assert heard["verdict"] == "refused"
    assert heard["reason"]


def test_the_pinned_phrases_name_the_labels_and_names_of_the_job_and_are_the_same_each_time():
    phrases = ear.phrases(WORDS)
    assert phrases == ear.phrases(WORDS)
    lines = [json.loads(line) for line in phrases.splitlines()]
    assert all({"text", "meaning"} == set(line) for line in lines)


def test_what_was_understood_is_given_back_in_words():
    said = ear.read_back("contact", {"contacts": ["9"], "state": "closed"})
    assert "nine" in said
    assert "closed" in said
