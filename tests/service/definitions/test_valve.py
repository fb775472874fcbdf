"""Valve files: the three samples, and every part that is missing, contradictory or not of its kind."""

import copy
from pathlib import Path

import pytest
import yaml

from service.commands.definition_files import load_valve_file
from service.definitions.valve import ValveFile
from service.domain.refusals import BadDefinition
from service.domain.rehearsal import rehearse

JOBS = Path(__file__).parents[3] / "sample_media/jobs"
DOCUMENT = yaml.safe_load((JOBS / "rw-204/valve.yaml").read_text())
_, WIRING = load_valve_file(JOBS / "rw-204/valve.yaml")
CIRCUITS = WIRING.circuits
QUARTER = yaml.safe_load((JOBS / "rw-118/valve.yaml").read_text())


def read(document) -> ValveFile:
    return ValveFile(yaml.safe_dump(document).encode())


def everything(valve: ValveFile):
    return (
        valve.scale, valve.motor, valve.duty, valve.questions, valve.margin(0.3), valve.stroke(CIRCUITS),
        valve.marks, valve.compared, valve.situation,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("tag", "stroke", "unit"),
    [("rw-204", 200.0, "mm"), ("rw-118", 90.0, "degrees"), ("rw-330", 130.175, "mm")],
)
def test_each_sample_valve_has_its_stroke(tag, stroke, unit):
    valve, wiring = load_valve_file(JOBS / tag / "valve.yaml")
    circuits = wiring.circuits
    assert valve.scale.stroke == pytest.approx(stroke)
    assert ("degrees" if valve.scale.kind == "quarter_turn" else "mm") == unit
    assert valve.stroke(circuits).direction in {"open", "closed"}
    assert valve.questions == []


def test_a_speed_may_be_stated_or_follow_from_supply_poles_and_slip():
    document = copy.deepcopy(DOCUMENT)
    assert read(document).motor.speed_rpm.value == pytest.approx(1399.95)
    for name in ("supply", "poles", "slip"):
        del document["motor"][name]
    document["motor"]["speed"] = "1440 rpm"
    assert read(document).motor.speed_rpm.value == 1440


def test_figures_that_give_reason_to_ask_are_asked_about_and_not_refused():
    document = copy.deepcopy(DOCUMENT)
    document["scale"].update(
        thread="Tr 28x4", earlier_drive_turns=37, switch_capacity_turns=41, nominal_size="6 in"
    )
    asked = " / ".join(read(document).questions)
    for words in ("Measure the lead", "earlier job", "does not fit this valve", "the table"):
        assert words in asked


def test_a_whole_stroke_the_other_way_can_be_asked_for():
    valve, wiring = load_valve_file(JOBS / "rw-204/valve.yaml")
    stroke = valve.stroke(wiring.circuits, "open")
    assert (stroke.direction, stroke.start_pct) == ("open", 0)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda d: d.pop("scale"), "scale"),
        (lambda d: d.pop("motor"), "motor"),
        (lambda d: d.pop("stroke"), "stroke"),
        (lambda d: d.pop("setting"), "setting"),
        (lambda d: d.update(extra=1), "extra"),
        (lambda d: d["scale"].update(drive_turns=0), "scale.drive_turns"),
        (lambda d: d["scale"].update(drive_turns=-40), "scale.drive_turns"),
        (lambda d: d["scale"].update(drive_turns=float("nan")), "scale.drive_turns"),
        (lambda d: d["scale"].pop("drive_turns"), "scale.drive_turns"),
        (lambda d: d["scale"].update(thread="M20"), "scale.thread"),
        (lambda d: d["scale"].update(lead="0 mm", thread="Tr 28x5"), "scale.lead"),
        (lambda d: d["scale"].update(lead="6 mm"), "scale.lead"),
        (lambda d: d["scale"].update(lead="5 s"), "scale.lead"),
        (lambda d: d["scale"].update(lead=5), "scale.lead"),
        (lambda d: (d["scale"].pop("thread"), d["scale"].update(lead="0 mm")), "scale.lead"),
        (lambda d: d["scale"].pop("thread"), "scale.lead"),
        (lambda d: d["scale"].update(handwheel=-12), "scale.handwheel"),
        (lambda d: d["scale"].pop("motor"), "scale.motor"),
        (lambda d: d["motor"].update(poles=3), "motor.poles"),
        (lambda d: d["motor"].update(supply="50 V"), "motor.supply"),
        (lambda d: d["motor"].update(slip=1.5), "motor.slip"),
        (lambda d: d["motor"].pop("slip"), "motor.slip"),
        (lambda d: d["motor"].update(drop_out="-80 ms"), "motor.drop_out"),
        (lambda d: d["motor"].update(drop_out_sigma="-20 ms"), "motor.drop_out_sigma"),
        (lambda d: d["motor"].update(deceleration="0 rpm/s"), "motor.deceleration"),
        (lambda d: d["margin"].update(lost_motion_handwheel_turns=-1), "margin.lost_motion_handwheel_turns"),
        (lambda d: d["stroke"].update(from_pct=101), "stroke.from_pct"),
        (lambda d: d["stroke"].update(trip_sigma_pct=-1), "stroke.trip_sigma_pct"),
        (lambda d: d["stroke"]["marks"][0].update(at="12 mm"), "stroke.marks[0].at"),
        (lambda d: d["stroke"].update(towards="left"), "stroke.towards"),
        (lambda d: d["setting"].update(travel_pct=120), "setting.travel_pct"),
        (lambda d: d["setting"].update(tolerance_pct=-1), "setting.tolerance_pct"),
        (
            lambda d: d["setting"]["observations"][1].update(sense="counter-clockwise"),
            "setting.observations[1].sense",
        ),
        (lambda d: d["setting"]["handwheel"][1].update(sense="clockwise"), "setting.handwheel[1].sense"),
        (lambda d: d["setting"]["tripped"].update(R1="perhaps"), "setting.tripped.R1"),
    ],
)
def test_a_spoilt_valve_file_names_the_field(change, field):
    document = copy.deepcopy(DOCUMENT)
    change(document)
    with pytest.raises(BadDefinition) as caught:
        rehearse(everything(read(document))[5])
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda d: d["scale"].pop("gear_ratio"), "scale.gear_ratio"),
        (lambda d: d["scale"].update(gear_ratio=0), "scale.gear_ratio"),
        (lambda d: d["scale"].update(swing="90 mm"), "scale.swing"),
        (lambda d: d["scale"].update(drive_turns=30), "scale.drive_turns"),
    ],
)
def test_a_spoilt_quarter_turn_names_the_field(change, field):
    document = copy.deepcopy(QUARTER)
    change(document)
    with pytest.raises(BadDefinition) as caught:
        _ = read(document).scale
    assert caught.value.field == field


def asked(**scale):
    document = copy.deepcopy(DOCUMENT)
    document["scale"].update(scale)
    return read(document).questions


def test_a_nominal_size_is_taken_in_inches_and_as_dn():
    assert any(
        "of 12 inches usually takes 38 to 39" in one for one in asked(nominal_size="DN 300", drive_turns=60)
    )
    assert asked(nominal_size="DN 300", drive_turns=39, earlier_drive_turns=39) == []
    with pytest.raises(BadDefinition) as caught:
        asked(nominal_size="DN 5")
    assert caught.value.field == "scale.nominal_size"


def test_a_part_turn_valve_whose_stop_keeps_it_from_its_seat_is_asked_about():
    document = copy.deepcopy(QUARTER)
    document["part_turn"] = {"open": {"seat": "90 deg", "limit": "88 deg", "stop": "89 deg"}}
    faults = read(document).part_turn_faults("open", 0.8)
    assert "keeps the valve from its seat" in faults[0]
    assert faults[-1] == "Set in this order: seat, limit, stop clearance."
    assert read(document).part_turn_faults("closed", 0.8) == []
    document["part_turn"]["open"].update(stop="91 deg", limit="89 deg")
    assert read(document).part_turn_faults("open", 0.8) == []


@pytest.mark.parametrize(("way", "left"), [("on_approach", 0.5), ("after_backing_off", 0.25)])
def test_a_counted_back_off_says_what_it_leaves(way, left):
    document = copy.deepcopy(DOCUMENT)
    document["setting"].update(way=way, backed_off_handwheel_turns=0.5)
    document["margin"]["lost_motion_handwheel_turns"] = 0.25
    valve = read(document)
    assert valve.situation.true_margin_pct == pytest.approx(valve.scale.pct(left, "handwheel"))


def test_a_back_off_into_the_hard_stop_is_refused_at_its_field():
    document = copy.deepcopy(DOCUMENT)
    document["setting"].update(backed_off_handwheel_turns=-0.5)
    with pytest.raises(BadDefinition) as caught:
        _ = read(document).situation
    assert caught.value.field == "setting.backed_off_handwheel_turns"


def test_a_valve_whose_chart_is_another_valves_is_refused(tmp_path):
    for name in ("chart.yaml", "layout.json"):
        (tmp_path / name).write_bytes((JOBS / "rw-330" / name).read_bytes())
    (tmp_path / "valve.yaml").write_bytes((JOBS / "rw-204/valve.yaml").read_bytes())
    with pytest.raises(BadDefinition, match="that of RW-330, not of RW-204"):
        load_valve_file(tmp_path / "valve.yaml")
