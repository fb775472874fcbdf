"""What the report says of strokes and travel: marks, times with their doubt, expectation, judgement, margins."""

from service.journal.heads import Head
from service.package.packaged import PackagedJob
from service.package.report import report_page
from service.package.report_facts import report_facts
from service.package.report_print import report_print
from service.package.report_strokes import stroke_doubts, strokes_part, turns_part
from tests.service.domain.sample_job import at_first_stroke
from tests.service.domain.test_stroke_judged import STEP, close
from tests.service.domain.test_stroke_marks import tap


def packaged(rig) -> PackagedJob:
    newest = rig.entries[-1]
    head = Head("job-2", newest.seq, "ab" * 32, newest.received)
    return PackagedJob(tuple(rig.entries), head, rig.state, {}, {}, "cd" * 32, {})


def stroke_of(rig):
    (part,) = strokes_part(packaged(rig), rig.state)
    return part


def test_a_stroke_is_told_with_marks_times_expectation_and_judgement():
    rig = at_first_stroke()
    close(rig)
    part = stroke_of(rig)
    assert part["verdict"] == "fits"
    assert part["took"] == "7.7 \N{PLUS-MINUS SIGN} 0.9 s"
    assert part["expected"].startswith("7.7 \N{PLUS-MINUS SIGN} ")
    assert part["from"] == "10.0 \N{PLUS-MINUS SIGN} 2.0 % open"
    assert [mark["what"] for mark in part["marks"]] == ["start", "stop"]
    assert part["marks"][1]["who"] == "Tess Arlow"
    assert {remark["topic"] for remark in part["remarks"]} >= {
        "time",
        "lamps",
        "what the marks cannot resolve",
    }


def test_a_stroke_that_is_off_stands_among_the_open_doubts_also_when_it_was_released():
    rig = at_first_stroke()
    close(rig, took=15.0)
    assert rig.release(STEP, "tess", reason="known to be slow") is None
    (doubt,) = stroke_doubts(rig.state)
    assert "15.0 s against" in doubt
    facts = report_facts(packaged(rig))
    assert doubt in facts["doubts"]
    assert stroke_of(rig)["reason"] == "known to be slow"
    assert "known to be slow" in report_page(facts)


def test_a_stroke_that_is_not_whole_is_told_as_not_judged():
    rig = at_first_stroke()
    tap(rig, "start", 0)
    part = stroke_of(rig)
    assert (part["verdict"], part["took"]) == ("not judged", "")
    assert "The end is not marked." in part["lacking"]


def test_counted_turns_and_margins_are_told():
    turns = turns_part(at_first_stroke().state)
    assert turns["total"] == "36"
    assert turns["lost"] == ["closing 0.25", "opening 0.25"]
    assert {end["end"] for end in turns["ends"]} == {"closed end", "open end"}


def test_page_and_print_say_it():
    rig = at_first_stroke()
    close(rig)
    facts = report_facts(packaged(rig))
    assert "Travel and strokes" in report_page(facts)
    assert report_print(facts, lambda _path: b"").startswith(b"%PDF")
