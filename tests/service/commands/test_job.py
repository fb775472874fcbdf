import json

import pytest
import yaml

from service.command_line import main
from tests.builders import SAMPLES

FOLDER = SAMPLES / "jobs" / "rw-204"


def opened(tmp_path, capsys, *more: str) -> dict:
    arguments = ["job", "open", str(FOLDER / "job.yaml"), "--data", str(tmp_path / "data"), "--json", *more]
    assert main(arguments) == 0
    return json.loads(capsys.readouterr().out)


def test_a_job_is_opened_from_a_file_on_a_fresh_folder_with_links_for_its_people(tmp_path, capsys):
    told = opened(tmp_path, capsys)
    assert told["tag"] == "RW-204"
    assert told["step"] == "prepare"
    people = yaml.safe_load((FOLDER / "job.yaml").read_text())["people"]
    assert set(told["links"]) == {person["sign_in_name"] for person in people}
    assert all("/invitation#" in link for link in told["links"].values())


def test_a_second_job_of_the_same_people_invites_nobody_again(tmp_path, capsys):
    first = opened(tmp_path, capsys)
    second = opened(tmp_path, capsys)
    assert second["links"] == {}
    assert second["job"] != first["job"]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda job: job.pop("valve"), "valve"),
        (lambda job: job.update(chart="nowhere.yaml"), "nowhere.yaml"),
        (lambda job: job["people"][0].update(roles=["king"]), "people[0].roles[0]"),
        (lambda job: job["valve"].update(tag="RW-9"), "RW-9"),
        (lambda job: job.update(procedure="never_written"), "never_written"),
        (lambda job: job.update(surprise=1), "surprise"),
    ],
)
def test_a_job_file_that_cannot_be_used_is_one_line_on_stderr_and_exit_2(tmp_path, capsys, change, says):
    job = yaml.safe_load((FOLDER / "job.yaml").read_text())
    for name in ("chart", "layout"):
        job[name] = str(FOLDER / job[name])
    change(job)
    file = tmp_path / "job.yaml"
    file.write_text(yaml.safe_dump(job))
    assert main(["job", "open", str(file), "--data", str(tmp_path / "data")]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert says in said.err
    assert said.err.count("\n") == 1
