"""Clocks in the report: instants of RFC 3339, devices whose clock was off, items that came late."""

from dataclasses import replace

import pytest

from service.domain.entries import NewEntry
from service.package.report_clocks import device_clocks, in_words, instant, time_line, to_the_second

ENTRY = NewEntry("note_added", {}, device="d-1").sealed(0, "2026-11-24T09:00:00Z", "00")


def item(seq: int, made: str, came: str, device: str = "d-1"):
    return replace(ENTRY, seq=seq, device=device, device_time=made, received=came)


@pytest.mark.outside(source="RFC 3339 section 5.8, examples")
@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1985-04-12T23:20:50.52Z", 482196050.52),
        ("1996-12-19T16:39:57-08:00", 851042397.0),
        ("1937-01-01T12:00:27.87+00:20", -1041337172.13),
    ],
)
def test_a_published_time_is_its_published_instant(text, seconds):
    assert instant(text).timestamp() == pytest.approx(seconds, abs=1e-6)


@pytest.mark.outside(
    source="RFC 3339 section 5.8: a leap second; sections 5.6 and 5.7: an offset, days that exist"
)
@pytest.mark.parametrize(
    "text",
    [
        "1990-12-31T23:59:60Z",
        "1985-04-12T23:20:50",
        "2021-02-29T00:00:00Z",
        "2021-01-01T24:00:01Z",
        "",
        None,
        "noon",
    ],
)
def test_a_time_that_cannot_be_told_is_none_and_no_error(text):
    assert instant(text) is None


def test_the_usual_difference_is_the_median_and_what_exceeds_it_came_late():
    made = ["09:00:00", "09:00:10", "09:00:20"]
    came = ["09:02:00", "09:02:10", "09:07:20"]
    entries = [
        item(seq, f"2026-11-24T{one}Z", f"2026-11-24T{other}Z")
        for seq, (one, other) in enumerate(zip(made, came, strict=True))
    ]
    (clock,) = device_clocks(entries)
    assert (clock.device, clock.offset_s, clock.late) == ("d-1", -120.0, (2,))


def test_two_devices_have_two_clocks_and_an_entry_without_one_has_none():
    entries = [
        item(0, "2026-11-26T09:00:00Z", "2026-11-24T09:00:00Z", "b"),
        item(1, "2026-11-24T09:00:00+00:00", "2026-11-24T09:00:01Z", "a"),
        replace(ENTRY, seq=2, device=None),
        item(3, "1990-12-31T23:59:60Z", "2026-11-24T09:00:02Z", "c"),
    ]
    assert [(clock.device, clock.offset_s) for clock in device_clocks(entries)] == [
        ("a", -1.0),
        ("b", 172800.0),
    ]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (1.25, "1.2 seconds"),
        (-119, "119.0 seconds"),
        (3600, "60.0 minutes"),
        (-7200, "2.0 hours"),
        (172800, "2.0 days"),
    ],
)
def test_a_difference_is_said_in_a_unit_that_can_be_read(seconds, words):
    assert in_words(seconds) == words


def test_a_time_in_a_table_keeps_its_zone():
    assert to_the_second("2026-11-24T10:00:00.123456+01:00") == "2026-11-24 10:00:00+01:00"


def test_a_time_line_of_entries_without_a_time_is_empty():
    assert time_line([replace(ENTRY, received="1990-12-31T23:59:60Z")]) == ""


def test_a_time_line_has_a_tick_for_each_entry_and_escapes_what_it_shows():
    entries = [item(0, "2026-11-24T09:00:00Z", "2026-11-24T09:00:01Z"), replace(ENTRY, seq=1, kind="<b>")]
    drawn = time_line(entries)
    assert drawn.count("<title>") == 2
    assert "<b>" not in drawn
