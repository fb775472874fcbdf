"""The door `rehearse`: events, what stopped the stroke, what is left, and a real stroke judged."""

import json
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
import yaml

from service.command_line import main

JOBS = Path(__file__).parents[3] / "sample_media/jobs"


def rehearsed(path, capsys, *more):
    status = main(["rehearse", str(path), "--json", *more])
    (line,) = capsys.readouterr().out.splitlines()
    return status, json.loads(line)


@pytest.fixture
def spoilt(tmp_path):
    def write(change, tag="rw-204"):
        for name in ("chart.yaml", "layout.json"):
            (tmp_path / name).write_bytes((JOBS / tag / name).read_bytes())
        document = yaml.safe_load((JOBS / tag / "valve.yaml").read_text())
        change(document)
        (tmp_path / "valve.yaml").write_text(yaml.safe_dump(document))
        return tmp_path / "valve.yaml"

    return write


def test_a_closing_stroke_stops_on_its_contact_and_leaves_millimetres(capsys):
    status, said = rehearsed(JOBS / "rw-204/valve.yaml", capsys)
    assert (status, said["stopped_by"]) == (0, "contact 9")
    assert said["left_to_stop_mm"] == pytest.approx((1.5 - said["coast_pct"]) / 100 * 200, abs=1e-3)
    assert {"t_s", "sigma_s", "travel_pct", "what"} == set(said["events"][0])


def test_the_margin_and_the_whole_travel_are_told_as_a_technician_counts_them(capsys):
    _, said = rehearsed(JOBS / "rw-204/valve.yaml", capsys)
    assert said["margin"]["handwheel_turns"] == 0.5
    assert said["margin"]["distance"] == pytest.approx(0.5 / 36 * 200, abs=1e-4)
    assert said["margin"]["trips_short_of_stop_pct"] == 1.5
    assert said["scale"] == {
        "kind": "rising_stem", "stroke": 200.0, "unit": "mm", "drive_turns": 40.0, "handwheel_turns": 36.0,
        "motor_turns": 2000.0, "setting_shaft_turns": 80.0,
    }  # fmt: skip
    _, torque = rehearsed(JOBS / "rw-330/valve.yaml", capsys)
    assert torque["margin"] is None


def test_a_quarter_turn_leaves_degrees_and_no_millimetres(capsys):
    _, said = rehearsed(JOBS / "rw-118/valve.yaml", capsys)
    assert said["left_to_stop_mm"] is None
    assert 0 < said["left_to_stop_deg"] < 1.8


def test_a_torque_seated_end_is_stopped_by_the_torque_switch(capsys):
    _, said = rehearsed(JOBS / "rw-330/valve.yaml", capsys)
    assert (said["stopped_by"], said["left_to_stop_mm"]) == ("torque switch", 0.0)


def test_the_other_direction_can_be_asked_for_and_is_not_judged_by_the_files_marks(capsys):
    _, said = rehearsed(JOBS / "rw-204/valve.yaml", capsys, "--towards", "open")
    assert said["stopped_by"] == "contact 12"
    assert "judged" not in said


def test_the_marks_of_a_real_stroke_are_judged(spoilt, capsys):
    status, said = rehearsed(spoilt(lambda d: d["stroke"]["marks"][3].update(at="130 s")), capsys)
    assert status == 1
    assert {remark["topic"]: remark["standing"] for remark in said["judged"]}["time"] == "differs"


def test_a_coast_into_the_hard_stop_is_found(spoilt, capsys):
    slow = {"deceleration": "200 rpm/s", "deceleration_sigma": "20 rpm/s"}
    assert main(["rehearse", str(spoilt(lambda d: d["motor"].update(slow)))]) == 1
    assert "would meet its hard stop" in capsys.readouterr().err


def test_a_stop_within_its_doubt_of_the_hard_stop_is_asked_about(spoilt, capsys):
    slow = {"deceleration": "650 rpm/s", "deceleration_sigma": "120 rpm/s"}
    assert main(["rehearse", str(spoilt(lambda d: d["motor"].update(slow)))]) == 0
    assert "Within the doubt of these figures the valve may meet its hard stop." in capsys.readouterr().err


def test_a_limit_set_closer_than_the_margin_is_asked_about(spoilt, capsys):
    path = spoilt(lambda d: d["margin"].update(uncertainty_pct=0.8))
    main(["rehearse", str(path)])
    assert "short of the hard stop; more is needed" in capsys.readouterr().err


def test_too_short_a_rest_since_the_last_run_is_asked_about(spoilt, capsys):
    runs = [{"began_before": "40 s", "ended_before": "18 s"}]
    main(["rehearse", str(spoilt(lambda d: d["motor"].update(earlier_runs=runs), "rw-118"))])
    assert "Run 2 began 18 s after the last; the plate asks 30 s." in capsys.readouterr().err


def test_it_plots_the_stroke(tmp_path, capsys):
    out = tmp_path / "stroke.svg"
    main(["rehearse", str(JOBS / "rw-204/valve.yaml"), "--svg", str(out)])
    words = "".join(ET.fromstring(out.read_text()).itertext())  # noqa: S314 - written a moment ago
    assert "motor circuit opens: contact 9" in words
    assert "stopped by: contact 9" in capsys.readouterr().out


def test_a_missing_part_is_named(spoilt, capsys):
    assert main(["rehearse", str(spoilt(lambda d: d.pop("motor")))]) == 2
    assert "motor: The valve file has no part motor" in capsys.readouterr().err
