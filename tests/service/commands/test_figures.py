"""The doors `repeat`, `drift` and `agreement`: their lines, their exit status, and what few figures may not say."""

import json
from pathlib import Path

import pytest
import yaml
from jsonschema import Draft202012Validator

from service.command_line import main
from service.definitions.documents import read_document

JOB = Path(__file__).parents[3] / "sample_media/jobs/rw-204"
DOORS = {"repeat": "repeats.yaml", "drift": "drift.yaml", "agreement": "looks.yaml"}


def lines(capsys, *arguments):
    status = main([str(one) for one in arguments])
    return status, [json.loads(line) for line in capsys.readouterr().out.splitlines()]


@pytest.mark.parametrize("verb", DOORS)
def test_each_sample_fits_the_schema_that_its_verb_prints(verb, capsys):
    with pytest.raises(SystemExit):
        main([verb, "--schema"])
    schema = json.loads(capsys.readouterr().out)
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(read_document((JOB / DOORS[verb]).read_bytes(), "sample"))


def test_two_counts_that_agree_are_too_few_to_tell(capsys):
    status, told = lines(capsys, "repeat", JOB / "repeats.yaml", "--json")
    assert status == 0
    assert [one["standing"] for one in told] == ["repeats", "cannot_tell", "cannot_tell", "repeats"]
    assert told[1]["spread"] == 0
    assert told[1]["mean_within"] > 0.25


def test_a_trip_that_does_not_repeat_is_found(tmp_path, capsys):
    document = yaml.safe_load((JOB / "repeats.yaml").read_text())
    document["trips"][1]["turns"] = [34.5, 35.5, 35.0]
    (tmp_path / "repeats.yaml").write_text(yaml.safe_dump(document))
    status, told = lines(capsys, "repeat", tmp_path / "repeats.yaml", "--json")
    assert (status, told[1]["standing"]) == (1, "does_not_repeat")


def test_a_drift_is_found_and_its_causes_are_possible_only(capsys):
    status, told = lines(capsys, "drift", JOB / "drift.yaml", "--json")
    assert status == 1
    assert told[0]["stands_out"]
    assert "Possible causes to ask about" in told[0]["sentence"]
    assert (told[1]["stands_out"], told[1]["leaves_on"]) == (False, None)
    first = told[0]["between"][0]
    assert (first["from"], first["to"], first["difference_pct"]) == ("2027-05-11", "2028-05-16", 0.28)


def test_a_few_looks_are_told_as_few(capsys):
    status, (told,) = lines(capsys, "agreement", JOB / "looks.yaml", "--json")
    assert status == 0
    assert (told["looks"], told["disagreed"], told["enough"], told["word"]) == (7, 1, False, None)
    assert {one["contact"]: one["disagreed"] for one in told["by_contact"]} == {
        "9": 1,
        "3B": 1,
        "17": 1,
        "12": 0,
    }


@pytest.mark.parametrize("verb", DOORS)
def test_in_words_each_door_says_the_same(verb, capsys):
    main([verb, str(JOB / DOORS[verb])])
    words = capsys.readouterr().out
    _, told = lines(capsys, verb, JOB / DOORS[verb], "--json")
    assert all(one["sentence"] in words for one in told)


@pytest.mark.parametrize("verb", DOORS)
def test_a_file_that_cannot_be_used_is_one_line(verb, tmp_path, capsys):
    (tmp_path / "bad.yaml").write_text("surprise: 1")
    assert main([verb, str(tmp_path / "bad.yaml"), "--json"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert len(printed.err.splitlines()) == 1


def test_a_folder_without_a_record_is_unusable(tmp_path, capsys):
    assert main(["agreement", "--data", str(tmp_path)]) == 2
    assert "There is no record" in capsys.readouterr().err
