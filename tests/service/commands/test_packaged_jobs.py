"""Jobs rebuilt from their packages: what is counted over them, and nothing of a package that was altered."""

import json

import pytest

from service.command_line import main
from service.commands.packaged_jobs import states_of
from tests.builders import SAMPLES
from tests.service.package.packages import packaged

JOB_FILE = SAMPLES / "jobs" / "rw-204" / "job.yaml"


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    folder = tmp_path_factory.mktemp("data")
    assert main(["job", "open", str(JOB_FILE), "--data", str(folder / "house")]) == 0
    assert main(["package", "RW-204", "--data", str(folder / "house"), "--out", str(folder / "p")]) == 0
    return folder / "p"


def test_a_package_gives_the_state_of_its_job_once_however_often_it_is_named(package):
    states, left_out = states_of([package, package])
    assert [(state.pinned.valve.tag, state.closed, state.last_seq) for state in states] == [
        ("RW-204", False, 0)
    ]
    assert left_out == {"older packages of a job": 1}


def test_a_job_that_is_not_handed_back_is_left_out_of_the_count(package, capsys):
    capsys.readouterr()
    assert main(["agreement", str(package), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["jobs"], told["left_out"]) == (0, {"not handed back": 1})


def test_altered_and_unreadable_packages_are_left_out_by_their_reason(tmp_path):
    altered, unreadable = packaged(tmp_path / "altered"), packaged(tmp_path / "plain")
    (altered / "data/findings.json").write_bytes(b"[]")
    states, left_out = states_of([altered, unreadable])  # the chart of the plain one is none that can be read
    assert (states, left_out) == ([], {"altered packages": 1, "unreadable packages": 1})


def test_what_is_no_package_is_unusable(tmp_path, capsys):
    assert main(["agreement", str(tmp_path)]) == 2
    assert "is no package" in capsys.readouterr().err
