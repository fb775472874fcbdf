"""The plot of a rehearsed stroke: every event in words, its last moments larger where the valve coasts."""

from xml.etree import ElementTree as ET

import pytest

from service.domain.rehearsal import rehearse
from service.domain.stroke import Mark
from service.domain.travel import Travel
from service.drawings.stroke_plot import draw_stroke
from tests.service.domain.circuits_in_words import circuits
from tests.service.domain.test_circuit_report import TORQUE_CLOSING, torque_seated
from tests.service.domain.test_rehearsal import stroke


def words(given) -> str:
    return " ".join(ET.fromstring(draw_stroke("RW-1", given, rehearse(given))).itertext())  # noqa: S314 - drawn a moment ago


@pytest.mark.parametrize("direction", ["open", "closed"])
def test_every_event_is_named_and_the_last_moments_are_drawn_larger(direction):
    given = stroke(direction, 0.0 if direction == "open" else 100.0)
    said = words(given)
    assert all(event.what in said for event in rehearse(given).events)
    assert "The last moments, drawn larger" in said
    assert "A dark lamp alone proves no stop" in said


def test_the_marks_of_a_real_stroke_are_named_with_their_seconds_since_its_start():
    given = stroke()
    marks = (Mark("start", 12.0, "tapped"), Mark("stop", 97.5), Mark("lamp red goes dark", 96.25, "tapped"))
    said = " ".join(ET.fromstring(draw_stroke("RW-1", given, rehearse(given), marks)).itertext())  # noqa: S314
    assert "84.2 s: lamp red goes dark (tapped)" in said
    assert "85.5 s: stop (spoken)" in said
    assert "Marked in a real stroke" not in words(given)


def test_without_coast_there_are_no_last_moments_to_show():
    said = words(stroke(circuits=circuits(torque_seated(), TORQUE_CLOSING)))
    assert "drawn larger" not in said
    assert "Stopped by the torque switch; the valve stands on its seat." in said


def test_a_stroke_that_does_not_start_says_so():
    assert "The motor does not start: contact 9 is open." in words(
        stroke("closed", 1.0, history=(Travel(50.0),))
    )
