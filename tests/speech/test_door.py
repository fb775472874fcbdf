import json

import pytest

from service.command_line import main as limitwitness
from speech.__main__ import main
from tests.speech.samples import CLIPS

PHRASES = str(CLIPS / "phrases.jsonl")
HEARD, REFUSED = str(CLIPS / "lock_is_off_clean.ogg"), str(CLIPS / "can_you_confirm_clean.ogg")


def test_json_is_one_object_a_line_even_for_one_clip(capsys):
    assert main(["hear", "--phrases", PHRASES, "--json", HEARD]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 1
    assert json.loads(lines[0])["slots"] == {"item": "lock", "state": "off"}


def test_a_refused_clip_makes_the_status_one_and_the_rest_is_heard(capsys):
    assert main(["hear", "--phrases", PHRASES, "--json", REFUSED, HEARD]) == 1
    verdicts = [json.loads(line)["verdict"] for line in capsys.readouterr().out.splitlines()]
    assert verdicts == ["refused", "heard"]


def test_the_service_command_forwards_to_the_same_door(capsys):
    assert limitwitness(["hear", "--phrases", PHRASES, HEARD]) == 0
    assert "heard 'lock is off'" in capsys.readouterr().out


def test_a_file_that_is_not_there_is_told_on_stderr_and_the_rest_is_heard(capsys):
    assert main(["hear", "--phrases", PHRASES, "--json", "nowhere.ogg", HEARD]) == 2
    told = capsys.readouterr()
    assert "cannot read nowhere.ogg" in told.err
    assert json.loads(told.out)["verdict"] == "heard"


@pytest.mark.parametrize("content", ["", "not json", '{"text": "x", "meaning": null}'])
def test_an_unusable_phrase_list_ends_with_two_and_one_sentence(tmp_path, capsys, content):
    path = tmp_path / "p.jsonl"
    path.write_text(content)
    assert main(["hear", "--phrases", str(path), HEARD]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1


def test_a_folder_that_is_no_model_ends_with_two(tmp_path, capsys):
    assert main(["hear", "--phrases", PHRASES, "--model", str(tmp_path), HEARD]) == 2
    assert "not a Vosk model" in capsys.readouterr().err


def test_guessed_words_and_phrases_left_out_are_named_on_stderr(tmp_path, capsys):
    path = tmp_path / "p.jsonl"
    lines = [
        {"text": "zorbex is open", "meaning": {"intent": "site", "slots": {}}},
        {"text": "gate 9 is shut", "meaning": {"intent": "site", "slots": {"g": 9}}},
        {
            "text": "lock is off",
            "meaning": {"intent": "isolation", "slots": {"item": "lock", "state": "off"}},
        },
    ]
    path.write_text("".join(json.dumps(line) + "\n" for line in lines))
    assert main(["hear", "--phrases", str(path), "--json", HEARD]) == 0
    told = capsys.readouterr()
    assert "'zorbex' is in no dictionary" in told.err
    assert "phrase 'gate 9 is shut': no pronunciation for: 9" in told.err
    assert json.loads(told.out)["text"] == "lock is off"


def test_the_card_of_a_step_is_printed(capsys):
    assert limitwitness(["phrases", "--step", "prove_dead", "--contacts", "1,2"]) == 0
    shown = capsys.readouterr().out
    assert "{line} to earth {volts} volts" in shown
    assert "0 to 1000, up to 2 decimals" in shown


def test_a_card_for_an_unknown_step_is_refused(capsys):
    assert limitwitness(["phrases", "--step", "brewing"]) == 2
    assert "brewing" in capsys.readouterr().err
