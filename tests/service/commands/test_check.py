"""`limitwitness check`: data on stdout, messages on stderr, and an exit status that scripts can use."""

import json
import subprocess
import sys

import pytest

from service.command_line import main
from service.package.check_door import MOST_SHOWN
from tests.service.journal.journals import KEY, OTHER_KEY
from tests.service.package.packages import packaged, record_of


def test_an_unchanged_package_exits_0_and_says_that_the_signer_was_not_compared(tmp_path, capsys):
    assert main(["check", str(packaged(tmp_path / "p.zip"))]) == 0
    printed = capsys.readouterr().out
    assert "unchanged since recorded" in printed
    assert "was not compared with a known key" in printed
    assert KEY.fingerprint in printed


def test_the_fingerprint_may_be_written_with_colons_and_capitals(tmp_path, capsys):
    written = ":".join(KEY.fingerprint[place : place + 2] for place in range(0, 64, 2)).upper()
    assert main(["check", str(packaged(tmp_path / "p")), "--key", written]) == 0
    assert "the one that you named" in capsys.readouterr().out


def test_another_key_exits_1_and_nothing_is_called_unchanged(tmp_path, capsys):
    assert main(["check", str(packaged(tmp_path / "p", key=OTHER_KEY)), "--key", KEY.fingerprint]) == 1
    printed = capsys.readouterr().out
    assert "signed with another key" in printed
    assert "unchanged" not in printed


def test_json_is_one_object_on_one_line(tmp_path, capsys):
    package = packaged(tmp_path / "p")
    (package / "data/findings.json").write_bytes(b"[]")
    assert main(["check", str(package), "--json"]) == 1
    (line,) = capsys.readouterr().out.splitlines()
    stated = json.loads(line)
    assert stated["verdict"] == "changed"
    assert "data/findings.json" in {problem["path"] for problem in stated["problems"]}


def test_no_package_exits_2_with_one_line_on_stderr(tmp_path, capsys):
    assert main(["check", str(tmp_path / "nothing"), "--json"]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert len(captured.err.splitlines()) == 1


@pytest.mark.parametrize("key", ["abc", "z" * 64, "0" * 63])
def test_a_fingerprint_that_is_none_exits_2(tmp_path, capsys, key):
    with pytest.raises(SystemExit) as stopped:
        main(["check", str(tmp_path), "--key", key])
    assert stopped.value.code == 2
    assert "64 hexadecimal digits" in capsys.readouterr().err


def test_removed_payloads_are_said_in_words(tmp_path, capsys):
    assert main(["check", str(packaged(tmp_path / "p", record_of(redacted=(2, 4))))]) == 0
    assert "payload of 2, 4" in capsys.readouterr().out


def test_a_long_list_of_problems_is_cut_and_its_rest_counted(tmp_path, capsys):
    package = packaged(tmp_path / "p")
    for number in range(MOST_SHOWN + 5):
        (package / f"added-{number:03}.txt").write_text("added")
    assert main(["check", str(package)]) == 1
    assert "more; --json lists all" in capsys.readouterr().out


@pytest.mark.parametrize("word", ["verified", "valid", "safe", " ok"])
def test_no_word_promises_more_than_the_check(tmp_path, capsys, word):
    main(["check", str(packaged(tmp_path / "p")), "--key", KEY.fingerprint])
    assert word not in capsys.readouterr().out.lower()


def test_the_check_loads_neither_service_nor_database(tmp_path):
    package = packaged(tmp_path / "p")
    script = (
        "import sys; from service.command_line import main; main(['check', sys.argv[1]]);"
        "names = {name.split('.')[0] for name in sys.modules};"
        "assert not names & {'sqlalchemy', 'fastapi', 'cryptography', 'pydantic', 'rfc8785', 'cv2'}, names;"
        "assert not any(name.startswith(('service.database', 'service.api')) for name in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(package)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
