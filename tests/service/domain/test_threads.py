"""Stem threads against the published selections, and designations that are none."""

import pytest

from service.domain.refusals import BadDefinition
from service.domain.threads import Thread, opening_sense_of_nut, question_about, thread_of


@pytest.mark.outside(
    source="ISO 2904 designation rule, in public texts: Tr 60x18(P9)LH (W1)", confidence="V2"
)
def test_a_two_start_left_hand_designation_gives_lead_pitch_and_starts():
    thread = thread_of("Tr 60×18(P9)LH")  # noqa: RUF001 - the sign that drawings print
    assert (thread.lead_mm, thread.pitch_mm, thread.starts, thread.left_hand) == (18, 9, 2, True)


@pytest.mark.outside(source="ASME B1.5 in a public part library: 1.5-4 ACME (W6)", confidence="V2")
def test_a_four_per_inch_acme_stem_has_a_diameter_of_38_1_and_a_lead_of_6_35_mm():
    thread = thread_of("1.5-4 ACME")
    assert thread.diameter_mm == pytest.approx(38.1)
    assert thread.lead_mm == pytest.approx(6.35)


@pytest.mark.outside(source="lead of single-start Acme, 25.4 mm over threads per inch (W6)", confidence="C")
@pytest.mark.parametrize(
    ("per_inch", "lead"),
    [(10, 2.54), (8, 3.175), (6, 4.2333), (5, 5.08), (4, 6.35), (3, 8.4667), (2.5, 10.16), (2, 12.7)],
)
def test_an_acme_lead_is_an_inch_over_the_threads(per_inch, lead):
    assert thread_of(f"1-{per_inch} ACME").lead_mm == pytest.approx(lead, abs=5e-5)


@pytest.mark.outside(source="ISO 2904 selection in a public CAD part library (W2)", confidence="V2")
@pytest.mark.parametrize(
    "diameter_and_pitches", ["28 3 5 8", "44 3 7 12", "60 3 9 14", "100 4 12 20", "8 1.5"]
)
def test_each_published_trapezoidal_pair_raises_no_question(diameter_and_pitches):
    diameter, *pitches = diameter_and_pitches.split()
    assert [question_about(thread_of(f"Tr {diameter}x{pitch}")) for pitch in pitches] == [None] * len(pitches)


@pytest.mark.outside(source="ISO 2904 selection: Tr 28x4 is in none of its pairs (W3)", confidence="V2")
def test_a_pair_outside_the_published_selection_deserves_a_question():
    assert "3, 5, 8" in question_about(thread_of("Tr 28x4"))


@pytest.mark.outside(
    source="ASME B1.5 general-purpose pairs in a public CAD part library (W8)", confidence="V2"
)
@pytest.mark.parametrize(
    "pair",
    ["1/4-16", "5/16-14", "3/8-12", "1/2-10", "5/8-8", "3/4-6", "7/8-6", "1-5", "1 1/4-5", "1 1/2-4",
     "1 3/4-4", "2-4", "2 1/2-3", "3-2"],
)  # fmt: skip
def test_each_published_acme_pair_raises_no_question(pair):
    assert question_about(thread_of(f"{pair} ACME")) is None


def test_an_acme_size_that_nobody_lists_deserves_a_question():
    assert "no such size" in question_about(thread_of("1.9-4 ACME"))


@pytest.mark.outside(source="basic trapezoidal geometry: d2 = d - P/2, D1 = d - P (W4)", confidence="V2")
def test_basic_diameters_of_a_trapezoidal_thread():
    thread = Thread("trapezoidal", 40, 7)
    assert (thread.pitch_diameter_mm, thread.minor_diameter_mm) == (36.5, 33)


def test_a_left_hand_nut_raises_the_stem_the_other_way():
    assert opening_sense_of_nut(thread_of("Tr 40x7")) == "clockwise"
    assert opening_sense_of_nut(thread_of("Tr 40x7LH")) == "counter-clockwise"


@pytest.mark.parametrize(
    "text",
    ["", "Tr", "Tr 28", "M20x1.5", "Tr 28x0", "Tr 28x5(P3)", "1/0-4 ACME", "2-0 ACME", "Tr 0x4"],
)
def test_what_is_no_designation_is_refused_at_its_field(text):
    with pytest.raises(BadDefinition) as caught:
        thread_of(text)
    assert caught.value.field.startswith("thread")


@pytest.mark.parametrize(
    ("diameter", "pitch", "starts"), [(0, 5, 1), (-28, 5, 1), (28, 0, 1), (28, 1e999, 1), (28, 5, 0)]
)
def test_a_thread_without_size_pitch_or_start_is_refused(diameter, pitch, starts):
    with pytest.raises(BadDefinition, match="more than zero"):
        Thread("trapezoidal", diameter, pitch, starts)
