"""`limitwitness package`: the package of a job out of the data folder, and refusals in one line."""

import json

import pytest

from service.command_line import main
from service.package.check import check_package
from tests.builders import SAMPLES
from tests.service.package.packages import sha256

JOB_FILE = SAMPLES / "jobs" / "rw-204" / "job.yaml"


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """A data folder with one opened job."""
    folder = tmp_path_factory.mktemp("data") / "house"
    assert main(["job", "open", str(JOB_FILE), "--data", str(folder)]) == 0
    return folder


@pytest.mark.parametrize("name", ["package.zip", "package"])
def test_the_package_of_a_job_is_made_and_checks_with_the_key_that_is_named(opened, tmp_path, capsys, name):
    capsys.readouterr()
    assert main(["package", "RW-204", "--data", str(opened), "--out", str(tmp_path / name), "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    outcome = check_package(tmp_path / name, made["key"])
    assert outcome.to_json() == {"verdict": "unchanged", "signer": "known", "problems": []}
    assert (outcome.contents.job, outcome.contents.entries) == (made["job"], made["entries"])


def test_the_package_holds_every_definition_that_the_job_pins(opened, tmp_path, capsys):
    assert main(["package", "RW-204", "--data", str(opened), "--out", str(tmp_path / "p")]) == 0
    opening = json.loads((tmp_path / "p" / "data" / "entries" / "00000.payload.json").read_bytes())["body"]
    held = {path.stem: path for path in (tmp_path / "p" / "data" / "definitions").iterdir()}
    assert {name: sha256(path.read_bytes()) for name, path in held.items()} == opening["pins"]
    assert set(json.loads((tmp_path / "p" / "contents.json").read_bytes())["definitions"]) == set(
        opening["pins"]
    )


def test_the_same_head_gives_the_same_bytes_from_the_command_line_too(opened, tmp_path):
    for name in ("a.zip", "b.zip"):
        assert main(["package", "RW-204", "--data", str(opened), "--out", str(tmp_path / name)]) == 0
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_an_unknown_job_and_an_existing_place_are_refused_with_2(opened, tmp_path, capsys):
    (tmp_path / "there").mkdir()
    assert main(["package", "RW-999", "--data", str(opened), "--out", str(tmp_path / "p")]) == 2
    assert main(["package", "RW-204", "--data", str(opened), "--out", str(tmp_path / "there")]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert "There is no job RW-999 in this folder." in lines[0]
    assert "exists already" in lines[1]


def test_a_tag_with_two_jobs_is_refused_with_both_ids(tmp_path, capsys):
    folder = str(tmp_path / "data")
    for _ in range(2):
        assert main(["job", "open", str(JOB_FILE), "--data", folder]) == 0
    ids = capsys.readouterr().out.split()
    assert main(["package", "RW-204", "--data", folder, "--out", str(tmp_path / "p")]) == 2
    refused = capsys.readouterr().err
    assert all(one in refused for one in ids)
    assert main(["package", ids[0], "--data", folder, "--out", str(tmp_path / "p")]) == 0


def test_a_folder_without_a_record_is_refused_and_left_alone(tmp_path, capsys):
    assert main(["package", "RW-204", "--data", str(tmp_path / "nothing")]) == 2
    assert "There is no record" in capsys.readouterr().err
    assert not (tmp_path / "nothing").exists()
