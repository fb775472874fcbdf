"""The door `advise`: one line a rotor, and contradictions refused."""

import json
from pathlib import Path

import pytest
import yaml

from service.command_line import main

JOBS = Path(__file__).parents[3] / "sample_media/jobs"


def advised(path, capsys):
    status = main(["advise", str(path), "--json"])
    return status, [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_a_rotor_that_has_not_tripped_is_turned_in_its_own_sense_and_the_others_left(capsys):
    status, lines = advised(JOBS / "rw-204/valve.yaml", capsys)
    assert status == 0
    assert [(line["rotor"], line["turn"]) for line in lines] == [
        ("R1", "counter-clockwise"), ("R2", "none"), ("R3", "none"),
    ]  # fmt: skip
    assert set(lines[0]) == {"rotor", "turn", "until", "turns", "reason"}
    assert lines[0]["turns"] == pytest.approx((1.5 - 0.4) / 100 * 40 * 2)


def test_a_rotor_that_has_tripped_is_reset_first_by_way_and_differential(capsys):
    _, lines = advised(JOBS / "rw-118/valve.yaml", capsys)
    r2 = lines[1]
    assert (r2["turn"], r2["until"]) == ("clockwise", "resets")
    assert r2["turns"] == pytest.approx((98.0 - 96.5 + 1.0) / 100 * 15 * 3)


def test_at_mid_travel_only_the_tripped_end_rotor_is_turned(capsys):
    _, lines = advised(JOBS / "rw-330/valve.yaml", capsys)
    assert [line["turn"] for line in lines] == ["none", "counter-clockwise", "none"]


def test_a_dangerous_chart_is_never_advised_to_be_set(tmp_path, capsys):
    for name in ("valve.yaml", "layout.json"):
        (tmp_path / name).write_bytes((JOBS / "rw-204" / name).read_bytes())
    document = yaml.safe_load((JOBS / "rw-204/chart.yaml").read_text())
    document["circuits"]["lamps"]["red"]["lit_when"] = "contact 14"
    (tmp_path / "chart.yaml").write_text(yaml.safe_dump(document))
    _, lines = advised(tmp_path / "valve.yaml", capsys)
    assert {line["turn"] for line in lines} == {"none"}
    assert all("only recorded as found, never set" in line["reason"] for line in lines)


def test_in_words_the_cautions_come_first(capsys):
    main(["advise", str(JOBS / "rw-204/valve.yaml")])
    assert capsys.readouterr().out.startswith("Only with the power locked out")


def test_contradictory_senses_are_refused_with_the_field(tmp_path, capsys):
    for name in ("chart.yaml", "layout.json"):
        (tmp_path / name).write_bytes((JOBS / "rw-204" / name).read_bytes())
    document = yaml.safe_load((JOBS / "rw-204/valve.yaml").read_text())
    document["setting"]["observations"][1]["sense"] = "counter-clockwise"
    (tmp_path / "valve.yaml").write_text(yaml.safe_dump(document))
    assert main(["advise", str(tmp_path / "valve.yaml"), "--json"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "observations[1].sense" in printed.err
