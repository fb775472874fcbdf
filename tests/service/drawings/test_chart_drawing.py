"""The drawing of a chart: well-formed, in words, true to the chart; what people wrote into it stays words."""

from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree as ET

from hypothesis import given
from hypothesis import strategies as st

from service.domain.chart import ContactChart, Rotor
from service.domain.chart_dangers import Danger
from service.domain.travel import Travel
from service.drawings.chart_drawing import ChartView, apart, draw_chart
from service.drawings.ladder import height_of
from tests.service.domain.charts import charts, contact, switch, two_ended_chart

SVG = "{http://www.w3.org/2000/svg}"


def drawn(chart: ContactChart, view=None) -> ET.Element:
    return ET.fromstring(draw_chart(chart, view))  # noqa: S314 - drawn a moment ago


def words(root) -> str:
    return " ".join(root.itertext())


def bands(root):
    return [one for one in root.iter(f"{SVG}rect") if one.get("fill") == "url(#hatch)"]


@given(charts())
def test_every_chart_draws_and_each_contact_has_one_hatched_band(chart):
    root = drawn(chart)
    assert len(bands(root)) == len(chart.contacts)
    assert all(f"trips towards {rotor.trips_towards}" in words(root) for rotor in chart.rotors)


def test_a_band_reaches_from_the_trip_point_to_the_end_where_the_contact_is_closed():
    root = drawn(two_ended_chart())
    at = height_of(150.0, 710.0)
    first = bands(root)[0]  # contact 9 breaks on R1 at 2 %: closed above it
    top, height = float(first.get("y")), float(first.get("height"))
    assert (round(top, 1), round(top + height, 1)) == (round(at(100), 1), round(at(2), 1))


@given(st.floats(0, 100), st.floats(0, 100))
def test_the_ladder_rises_with_the_travel(one, other):
    at = height_of(0.0, 1000.0)
    assert (one < other) <= (at(one) >= at(other))
    assert (at(0), at(100)) == (1000.0, 0.0)


def test_present_travel_trip_points_as_found_and_dangers_are_said_in_words():
    chart = two_ended_chart()
    found = replace(chart, rotors=(replace(chart.rotors[0], trip_pct=6.0), chart.rotors[1]))
    root = drawn(chart, ChartView(Travel(37.5, 2.0), found, (Danger("open_end", "nothing stops it"),)))
    assert "now at 37.5 ± 2 %" in words(root)
    assert "found 6 %" in words(root)
    assert "found at 6 %, moved by -4 %" in words(root)
    assert "Dangerous to set: nothing stops it" in words(root)


@given(st.lists(st.floats(0, 500), min_size=1, max_size=2))
def test_words_beside_each_other_never_lie_on_each_other(heights):
    placed = apart([(height, "x") for height in heights], 15.0)
    assert all(later[0] - earlier[0] >= 15.0 - 1e-9 for earlier, later in pairwise(placed))


def test_the_words_of_a_trip_point_and_of_one_as_found_close_by_lie_apart():
    chart = two_ended_chart()
    found = replace(chart, rotors=(replace(chart.rotors[0], trip_pct=2.1), chart.rotors[1]))
    lines = {
        one.text: float(one.get("y")) for one in drawn(chart, ChartView(as_found=found)).iter(f"{SVG}text")
    }
    assert abs(lines["2 %"] - lines["found 2.1 %"]) >= 15


def test_the_legend_of_many_contacts_stands_in_columns():
    layout = switch(4, 8)
    rotors = tuple(Rotor(f"R{n}", "open", 20.0 * n, 1.0) for n in range(1, 5))
    contacts = tuple(
        contact(layout, place.id, place.id, "breaks" if place.bar == "lower" else "makes")
        for place in layout.contacts
    )
    root = drawn(ContactChart("RW-1", layout, rotors, contacts))
    rows = [one for one in root.iter(f"{SVG}text") if " on R" in (one.text or "")]
    assert len(rows) == 64
    assert len({one.get("x") for one in rows}) > 1
    assert float(root.get("height")) < 1600


def test_a_long_danger_is_wrapped_and_a_long_label_shortened_in_its_column_alone():
    chart = two_ended_chart()
    long = replace(chart.contacts[0], label="R1 lower left", use="closing")
    root = drawn(replace(chart, contacts=(long,)), ChartView(dangers=(Danger("x", "word " * 60),)))
    lines = [one.text or "" for one in root.iter(f"{SVG}text")]
    assert max(map(len, lines)) <= 104
    assert sum("word" in one for one in lines) > 2
    assert any(one.startswith("R1 lower left: breaks") for one in lines)


def test_what_people_wrote_into_a_chart_stays_words():
    chart = two_ended_chart()
    nasty = '<script>alert("x")</script>&'
    root = drawn(replace(chart, valve=nasty, contacts=(replace(chart.contacts[0], use=nasty),)))
    assert not list(root.iter(f"{SVG}script"))
    assert nasty in words(root)


def test_a_reader_who_cannot_see_it_hears_a_title_and_the_legend():
    root = drawn(two_ended_chart())
    assert root.find(f"{SVG}title").text == "Contact chart of RW-1"
    assert "Hatched: closed" in root.find(f"{SVG}desc").text
