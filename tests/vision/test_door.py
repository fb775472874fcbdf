"""The door: one JSON object a line, exit status 0, 1 and 2, pictures on demand."""

import json
import shutil

import pytest

from tests.vision.conftest import SAMPLES
from vision.__main__ import main

LAYOUT = str(SAMPLES / "jobs" / "rw-204" / "layout.json")
PHOTO = SAMPLES / "photos" / "job_001.jpg"
KEYS = {"file", "layout", "verdict", "reason", "registration", "rotors", "bars", "contacts", "ms"}


def test_a_readable_photo_gives_one_json_line_and_status_0(capsys):
    assert main(["read", "--layout", LAYOUT, "--json", str(PHOTO)]) == 0
    (line,) = capsys.readouterr().out.splitlines()
    said = json.loads(line)
    assert set(said) == KEYS
    assert said["file"] == "job_001.jpg"
    assert said["registration"]["method"] == "tags"
    assert set(said["bars"][0]) == {"rotor", "bar", "angle_deg", "sigma_deg", "state", "p_along"}
    assert set(said["rotors"][0]) == {"id", "state", "reason"}
    assert set(said["ms"]) == {"decode", "total"}


def test_a_refused_photo_among_others_gives_status_1_and_its_reason(tmp_path, capsys):
    bad = tmp_path / "notes.jpg"
    bad.write_text("no photo at all")
    assert main(["read", "--layout", LAYOUT, "--json", str(PHOTO), str(bad)]) == 1
    good, refused = map(json.loads, capsys.readouterr().out.splitlines())
    assert good["verdict"] == "read"
    assert refused["verdict"] == "refused"
    assert "not a photo" in refused["reason"]


@pytest.mark.parametrize(
    "wrong", [["--layout", "/nowhere.json", str(PHOTO)], ["--layout", LAYOUT, "/nowhere.jpg"]]
)
def test_unusable_arguments_give_status_2_and_a_message_on_stderr(wrong, capsys):
    assert main(["read", *wrong]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "read:" in told.err


def test_a_folder_is_read_whole_and_pictures_are_written_beside_it(tmp_path, capsys):
    shutil.copy(PHOTO, tmp_path / "a.jpg")
    (tmp_path / "notes.txt").write_text("not for reading")
    assert main(["read", "--layout", LAYOUT, "--annotate", str(tmp_path / "seen"), str(tmp_path)]) == 0
    assert "R1: legal" in capsys.readouterr().out
    assert [path.name for path in (tmp_path / "seen").iterdir()] == ["a.annotated.jpg"]
