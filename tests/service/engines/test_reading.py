import pytest

from service.definitions.chart import load_chart
from service.definitions.layout import load_layout
from service.domain.refusals import BadDefinition
from service.engines.reading import VisionReading, probability_of, state_of
from tests.builders import SAMPLES, photo

FOLDER = SAMPLES / "jobs" / "rw-204"
LAYOUT = (FOLDER / "layout.json").read_bytes()
CHART = load_chart((FOLDER / "chart.yaml").read_bytes(), load_layout(LAYOUT))
NINE = CHART.contact("9")


def reading(state: str, contact: str = "unknown", bar: str = "along", p_along: float | None = 0.98) -> dict:
    return {
        "verdict": "read",
        "reason": None,
        "rotors": [{"id": NINE.rotor, "state": state, "reason": None}],
        "bars": [{"rotor": NINE.rotor, "bar": NINE.bar, "state": bar, "p_along": p_along}],
        "contacts": {NINE.place: contact},
    }


@pytest.mark.parametrize(
    ("rotor", "contact", "expected"),
    [
        ("legal", "closed", "closed"),
        ("legal", "open", "open"),
        ("legal", "unknown", "none"),
        ("between", "unknown", "between"),
        ("impossible", "unknown", "impossible"),
        ("unreadable", "unknown", "none"),
        ("unreadable", "closed", "none"),
        ("impossible", "closed", "impossible"),
        ("something else", "closed", "none"),
    ],
)
def test_only_a_legal_rotor_gives_closed_or_open(rotor, contact, expected):
    assert state_of(NINE, reading(rotor, contact)) == expected


def test_a_refused_reading_and_a_rotor_that_is_not_there_show_nothing():
    assert state_of(NINE, {**reading("legal", "closed"), "verdict": "refused"}) == "none"
    assert state_of(NINE, {**reading("legal", "closed"), "rotors": []}) == "none"


@pytest.mark.parametrize(("bar", "expected"), [("along", 0.98), ("across", pytest.approx(0.02))])
def test_the_probability_is_that_of_the_contacts_own_bar(bar, expected):
    assert probability_of(NINE, reading("legal", "closed", bar)) == expected


def test_no_probability_is_given_for_what_was_not_read():
    assert probability_of(NINE, reading("between")) is None
    assert probability_of(NINE, reading("legal", "closed", p_along=None)) is None


def test_a_real_photo_is_turned_into_labels_with_a_picture_of_what_was_measured():
    seen = VisionReading().read((SAMPLES / "photos" / "job_005.jpg").read_bytes(), LAYOUT, CHART)
    assert seen.contacts["9"] == "open"
    assert seen.contacts["17"] == "closed"
    assert 0.5 < seen.p["9"] <= 1
    assert seen.annotated.startswith(b"\xff\xd8\xff")


@pytest.mark.parametrize("bad", [b"", b"\xff\xd8\xff\xe0 torn", photo()])
def test_a_bad_photo_is_a_refused_reading_and_never_an_exception(bad):
    seen = VisionReading().read(bad, LAYOUT, CHART)
    assert set(seen.contacts.values()) == {"none"}
    assert seen.reading["verdict"] == "refused"
    assert seen.reading["reason"]
    assert seen.annotated is None


def test_a_layout_that_the_eye_cannot_use_is_refused_as_a_definition():
    with pytest.raises(BadDefinition):
        VisionReading().read(photo(), b"{}", CHART)
