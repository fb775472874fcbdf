"""Files of counts, trip points and looks: what they give, and every fault named by its field."""

import copy
import json
from datetime import date
from pathlib import Path

import pytest
import yaml

from service.definitions.trips import load_drift, load_looks, load_repeats
from service.domain.refusals import BadDefinition
from service.use_cases.tell_agreement import tell_looks
from service.use_cases.tell_repeats import tell_drift, tell_repeats

FOLDER = Path(__file__).parents[3] / "sample_media/jobs/rw-204"
SAMPLES = {name: yaml.safe_load((FOLDER / f"{name}.yaml").read_text()) for name in ("repeats", "looks")}
SAMPLES["drift"] = json.loads(json.dumps(yaml.safe_load((FOLDER / "drift.yaml").read_text()), default=str))
TELL = {
    "repeats": lambda text: tell_repeats(load_repeats(text)),
    "drift": lambda text: tell_drift(load_drift(text)),
    "looks": lambda text: tell_looks(load_looks(text)),
}


@pytest.mark.parametrize("name", TELL)
def test_each_sample_is_told(name):
    assert TELL[name]((FOLDER / f"{name}.yaml").read_bytes())


def test_whole_turns_and_marks_make_turns_and_percent_of_travel():
    trip = load_repeats((FOLDER / "repeats.yaml").read_bytes()).trips[0]
    assert trip.counts[0] == pytest.approx(35 + 165 / 360)
    assert trip.read_to == pytest.approx(5 / 360)
    assert trip.pct_a_unit == pytest.approx(100 / 36)


def test_each_kind_of_count_has_its_unit_and_its_share_of_the_travel():
    trips = load_repeats((FOLDER / "repeats.yaml").read_bytes()).trips
    assert [trip.unit for trip in trips] == ["turns", "turns", "mm", "degrees"]
    assert trips[2].pct_a_unit == pytest.approx(100 / 200)
    assert trips[3].pct_a_unit == pytest.approx(100 / 36 / 360)
    assert max(trips[3].counts) - min(trips[3].counts) == pytest.approx(10)


def test_days_are_counted_by_the_calendar():
    trip = load_drift((FOLDER / "drift.yaml").read_bytes()).trips[1]
    assert trip.jobs[1].day - trip.jobs[0].day == (date(2031, 5, 6) - date(2028, 5, 16)).days
    assert trip.last == date(2031, 5, 6)


def test_a_trip_point_that_drifts_says_the_day_and_one_beyond_a_century_none():
    drift = copy.deepcopy(SAMPLES["drift"])
    drift["trips"][0]["jobs"].pop()
    told = tell_drift(load_drift(json.dumps(drift).encode()))
    assert told[0]["leaves_on"] > "2029-06-05"
    drift["trips"][0]["tolerance_pct"] = 90
    assert tell_drift(load_drift(json.dumps(drift).encode()))[0]["leaves_on"] is None


@pytest.mark.parametrize(
    ("name", "change", "field"),
    [
        ("repeats", lambda d: d.pop("counted_on"), "counted_on"),
        ("repeats", lambda d: d.update(turns_stop_to_stop=0), "turns_stop_to_stop"),
        ("repeats", lambda d: d.update(turns_stop_to_stop=-36), "turns_stop_to_stop"),
        ("repeats", lambda d: d.update(stem_travel="0 mm"), "stem_travel"),
        ("repeats", lambda d: d.update(stem_travel="3 s"), "stem_travel"),
        ("repeats", lambda d: d["trips"][1].update(turns=[]), "trips[1].turns"),
        ("repeats", lambda d: d["trips"][1].update(turns=[1e300]), "trips[1].turns[0]"),
        ("repeats", lambda d: d["trips"][1].pop("turns"), "trips[1].turns"),
        ("repeats", lambda d: d["trips"][1].update(stem_marks=["3 mm"]), "trips[1].stem_marks"),
        ("repeats", lambda d: d["trips"][1].update(read_to=0.25), "trips[1].read_to"),
        ("repeats", lambda d: d["trips"][1].update(read_to="1 mm"), "trips[1].read_to"),
        ("repeats", lambda d: d["trips"][1].update(read_to="-1 turn"), "trips[1].read_to"),
        ("repeats", lambda d: d["trips"][1].update(tolerance="0 turn"), "trips[1].tolerance"),
        (
            "repeats",
            lambda d: d["trips"][0]["turns_and_marks"][2].update(mark="x"),
            "trips[0].turns_and_marks[2].mark",
        ),
        ("repeats", lambda d: d["trips"][2]["stem_marks"].append("9 kg"), "trips[2].stem_marks[3]"),
        ("repeats", lambda d: d["trips"][3].update(rim_marks=["0 deg", "180 deg"]), "trips[3].rim_marks"),
        ("drift", lambda d: d["trips"][0]["jobs"][1].update(date="2029-02-30"), "trips[0].jobs[1].date"),
        ("drift", lambda d: d["trips"][0]["jobs"][1].update(doubt_pct=0), "trips[0].jobs[1].doubt_pct"),
        ("drift", lambda d: d["trips"][0]["jobs"][1].update(doubt_pct=1e-300), "trips[0].jobs[1].doubt_pct"),
        ("drift", lambda d: d["trips"][0]["jobs"][1].update(found_pct=1e9), "trips[0].jobs[1].found_pct"),
        ("drift", lambda d: d["trips"][0]["jobs"][0].update(left_pct=-1e9), "trips[0].jobs[0].left_pct"),
        ("drift", lambda d: d["trips"][1].update(tolerance_pct=-1), "trips[1].tolerance_pct"),
        ("drift", lambda d: d["trips"][1].update(set_at_pct=101), "trips[1].set_at_pct"),
        ("drift", lambda d: d["trips"][1]["jobs"].pop(), "trips[1].jobs"),
        ("looks", lambda d: d["looks"][0].update(first="perhaps"), "looks[0].first"),
        ("looks", lambda d: d["looks"].append(d["looks"][0]), "looks[11].contact"),
        ("looks", lambda d: d.update(looks=[]), "looks"),
    ],
)
def test_a_fault_is_named_by_its_field(name, change, field):
    document = copy.deepcopy(SAMPLES[name])
    change(document)
    with pytest.raises(BadDefinition) as caught:
        TELL[name](json.dumps(document).encode())
    assert caught.value.field == field
