"""The door `chart`: what it prints, what it draws, and its exit status."""

import json
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
import yaml
from jsonschema import Draft202012Validator

from service.command_line import main

JOBS = Path(__file__).parents[3] / "sample_media/jobs"


@pytest.fixture
def spoilt(tmp_path):
    def write(change, tag="rw-204"):
        document = yaml.safe_load((JOBS / tag / "chart.yaml").read_text())
        change(document)
        (tmp_path / "layout.json").write_bytes((JOBS / tag / "layout.json").read_bytes())
        (tmp_path / "chart.yaml").write_text(yaml.safe_dump(document))
        return str(tmp_path / "chart.yaml")

    return write


@pytest.mark.parametrize("tag", ["rw-204", "rw-118", "rw-330"])
def test_each_sample_chart_is_whole_and_may_be_set(tag, capsys):
    assert main(["chart", str(JOBS / tag / "chart.yaml"), "--json"]) == 0
    printed = capsys.readouterr()
    (line,) = printed.out.splitlines()
    assert json.loads(line)["dangers"] == []
    assert printed.err == ""


def test_in_words_the_lamps_are_told_along_both_strokes(capsys):
    assert main(["chart", str(JOBS / "rw-204/chart.yaml")]) == 0
    rows = [row for row in capsys.readouterr().out.splitlines() if row.startswith("lamps towards")]
    assert rows == [
        "lamps towards closed, 100 to 96.8 %: red lit, green dark",
        "lamps towards closed, 96.8 to 1.5 %: red lit, green lit",
        "lamps towards closed, 1.5 to 0 %: red dark, green lit",
        "lamps towards open, 0 to 2.7 %: red dark, green lit",
        "lamps towards open, 2.7 to 98 %: red lit, green lit",
        "lamps towards open, 98 to 100 %: red lit, green dark",
    ]


def test_at_a_travel_it_gives_contacts_lamps_and_stops(capsys):
    assert main(["chart", str(JOBS / "rw-204/chart.yaml"), "--at", "0", "--towards", "closed", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["contacts"]["9"] == "open"
    assert said["lamps"] == {"red": False, "green": True}
    assert said["shows"] == ["closed"]
    assert said["stops"] == [
        {"direction": "closed", "by": "contact 9", "at_pct": 1.5, "here": True},
        {"direction": "open", "by": "contact 12", "at_pct": 98.0, "here": False},
    ]


def test_a_direction_that_torque_stops_names_it(capsys):
    main(["chart", str(JOBS / "rw-330/chart.yaml"), "--at", "37.5", "--towards", "open", "--json"])
    stops = json.loads(capsys.readouterr().out)["stops"]
    assert [(stop["direction"], stop["by"], stop["here"]) for stop in stops] == [
        ("closed", "torque switch", False),
        ("open", "contact 24", False),
    ]


def test_the_direction_decides_inside_the_differential(capsys):
    states = []
    for towards in ("open", "closed"):
        main(["chart", str(JOBS / "rw-204/chart.yaml"), "--at", "2.0", "--towards", towards, "--json"])
        states.append(json.loads(capsys.readouterr().out)["contacts"]["9"])
    assert states == ["open", "closed"]


@pytest.mark.parametrize(
    ("after", "state"),
    [(["50"], "closed"), (["50", "1.8"], "closed"), (["50", "0.5"], "open"), (["0"], "open")],
)
def test_inside_the_differential_the_whole_history_decides(after, state, capsys):
    turned = ["--at", "2", "--towards", "open" if after[-1] < "2" else "closed", "--after", *after]
    assert main(["chart", str(JOBS / "rw-204/chart.yaml"), *turned, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["contacts"]["9"] == state


@pytest.mark.parametrize("after", [["0.5"], ["50", "120"], ["1"] * 60])
def test_a_history_that_cannot_be_is_refused(after, capsys):
    path = str(JOBS / "rw-204/chart.yaml")
    assert main(["chart", path, "--at", "2", "--towards", "closed", "--after", *after]) == 2
    assert "limitwitness chart: after: " in capsys.readouterr().err


def test_at_a_checkpoint_the_named_states_of_the_rotors_decide(capsys):
    arguments = ["chart", str(JOBS / "rw-204/chart.yaml"), "--states", "R1=just_tripped", "R2=at_rest"]
    assert main([*arguments, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["contacts"]["9"], said["contacts"]["12"], said["contacts"]["23"]) == (
        "open",
        "closed",
        "either",
    )
    assert said["along"] == {"R1": "upper", "R2": "lower"}
    assert main(arguments) == 0
    assert "contact 9: open" in capsys.readouterr().out


@pytest.mark.parametrize(("state", "field"), [("R1=jammed", "states.R1"), ("R9=at_rest", "states.R9")])
def test_a_checkpoint_of_a_rotor_or_state_that_there_is_not_is_refused(state, field, capsys):
    assert main(["chart", str(JOBS / "rw-204/chart.yaml"), "--states", state]) == 2
    assert f"{field}: " in capsys.readouterr().err


def test_within_the_doubt_of_the_travel_it_says_either_and_null(capsys):
    main(
        [
            "chart",
            str(JOBS / "rw-204/chart.yaml"),
            "--at",
            "1.5",
            "--plus-minus",
            "1",
            "--towards",
            "closed",
            "--json",
        ]
    )
    said = json.loads(capsys.readouterr().out)
    assert said["contacts"]["9"] == "either"
    assert said["lamps"]["red"] is None
    assert [stop["here"] for stop in said["stops"]] == [None, False]


def test_it_draws_what_it_checked(tmp_path, capsys):
    out = tmp_path / "chart.svg"
    assert (
        main(["chart", str(JOBS / "rw-118/chart.yaml"), "--svg", str(out), "--at", "30", "--towards", "open"])
        == 0
    )
    words = "".join(ET.fromstring(out.read_text()).itertext())  # noqa: S314 - written a moment ago
    assert "now at 30 %" in words
    assert "motor towards" not in capsys.readouterr().err


def test_the_chart_as_found_is_drawn_beside_and_never_that_of_another_valve(spoilt, tmp_path, capsys):
    found = spoilt(lambda d: d["rotors"][0].update(trip_pct=0.4))
    out = tmp_path / "chart.svg"
    assert main(["chart", str(JOBS / "rw-204/chart.yaml"), "--as-found", found, "--svg", str(out)]) == 0
    assert "found at 0.4 %" in out.read_text()
    other = str(JOBS / "rw-118/chart.yaml")
    assert main(["chart", str(JOBS / "rw-204/chart.yaml"), "--as-found", other, "--svg", str(out)]) == 2
    assert "--as-found: The chart as found is that of RW-118" in capsys.readouterr().err


def test_a_dangerous_chart_is_shown_as_found_named_and_counted(spoilt, capsys):
    path = spoilt(lambda d: d["ends"].update(closed="torque"))
    assert main(["chart", path, "--json"]) == 1
    printed = capsys.readouterr()
    assert "Dangerous to set" in printed.err
    assert json.loads(printed.out)["dangers"][0]["field"] == "circuits.motor.closing"


def test_an_impossible_chart_is_refused_at_its_field(spoilt, capsys):
    path = spoilt(lambda d: d["contacts"][1].update(action="makes"))
    assert main(["chart", path]) == 2
    assert "contacts[1].action" in capsys.readouterr().err


def test_a_chart_whose_layout_is_missing_is_refused(spoilt, capsys):
    assert main(["chart", spoilt(lambda d: d.update(layout="other.json"))]) == 2
    assert "layout: Cannot read" in capsys.readouterr().err


@pytest.mark.parametrize(
    "arguments", [["--at", "3"], ["--towards", "open"], ["--at", "300", "--towards", "open"]]
)
def test_a_travel_without_direction_or_outside_the_stroke_is_unusable(arguments, capsys):
    assert main(["chart", str(JOBS / "rw-204/chart.yaml"), *arguments]) == 2
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(
    ("verb", "part"), [("chart", "circuits"), ("advise", "setting"), ("rehearse", "stroke")]
)
def test_each_verb_prints_the_schema_that_its_samples_fit(verb, part, capsys):
    with pytest.raises(SystemExit) as ended:
        main([verb, "--schema"])
    assert ended.value.code == 0
    schema = json.loads(capsys.readouterr().out)
    assert part in schema["properties"]
    name = "chart.yaml" if verb == "chart" else "valve.yaml"
    Draft202012Validator.check_schema(schema)
    for tag in ("rw-204", "rw-118", "rw-330"):
        Draft202012Validator(schema).validate(yaml.safe_load((JOBS / tag / name).read_text()))


def test_a_file_that_is_not_there_is_unusable(capsys):
    assert main(["chart", "nowhere.yaml"]) == 2
    assert "Cannot read nowhere.yaml" in capsys.readouterr().err
