import json

import pytest

from speech.phrase import load_phrases, parse_phrases, words_of
from speech.refusals import PhrasesRefused


def line(text, meaning):
    return json.dumps({"text": text, "meaning": meaning})


ON = {"intent": "isolation", "slots": {"item": "lock", "state": "on"}}


def test_lines_without_meaning_are_left_out():
    kept = parse_phrases(line("lock is on", ON) + "\n\n" + line("nice weather", None))
    assert [phrase.text for phrase in kept] == ["lock is on"]
    assert kept[0].meaning.to_json() == ON


def test_further_keys_of_a_line_do_no_harm():
    text = json.dumps({"text": "Lock is ON.", "meaning": ON, "kind": "isolation", "id": 3})
    assert parse_phrases(text)[0].text == "lock is on"


def test_words_are_lower_case_and_marks_part_them():
    assert words_of("Hand-wheel, isn't  X-ray!") == ["hand", "wheel", "isn't", "x", "ray"]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "empty"),
        (line("nice weather", None), "empty"),
        ("lock is on", "line 1: not a JSON object"),
        ("[1]", "line 1: needs a text"),
        ('{"text": "a"}', "line 1: needs a text"),
        ('{"text": 3, "meaning": null}', "line 1: needs a text"),
        (line("", ON), "no words"),
        (line("...", ON), "no words"),
        (line("lock {state}", ON), "no words"),
        (line("a", {"slots": {}}), "intent"),
        (line("a", {"intent": 4}), "intent"),
        (line("a", {"intent": "x", "slots": []}), "slots"),
        (line("word " * 41, ON), "41 words"),
        ('{"text": "a", "meaning": {"intent": "x", "slots": {"v": NaN}}}', "NaN"),
        ('{"text": "a", "meaning": {"intent": "x", "slots": {"v": Infinity}}}', "Infinity"),
    ],
)
def test_a_bad_list_is_refused_with_its_line(text, reason):
    with pytest.raises(PhrasesRefused, match=reason):
        parse_phrases(text)


def test_a_missing_file_is_refused(tmp_path):
    with pytest.raises(PhrasesRefused, match="cannot read"):
        load_phrases(tmp_path / "none.jsonl")


def test_a_file_that_is_no_text_is_refused(tmp_path):
    path = tmp_path / "photo.jsonl"
    path.write_bytes(b"\xff\xd8\xff\xe0")
    with pytest.raises(PhrasesRefused, match="UTF-8"):
        load_phrases(path)
