"""The whole shipped procedure on the two pages in real Chromium: from the first question to the handed-in permit.

Each thing that the phone asks is answered there by button, field and file; the second person judges and releases at the
desk. Nothing goes past the pages. After the opening stroke the lamps are said otherwise than the chart wants them, so
that it can be released with a reason only.
"""

from pathlib import Path

import pytest

from service.definitions.procedure import load_procedure, shipped_procedure
from tests.driving import Service
from tests.journeys.browser_driving import DESK, PHONE, chromium, sign_in, watched
from tests.journeys.browser_people import PHOTO_OF_STEP, SLOW_MS, Technician, Verifier, rotors_of
from tests.journeys.screenshots import started_from_new

pytestmark = [pytest.mark.browser, pytest.mark.install, pytest.mark.timeout(900)]

JUDGED = ("closed_still", "open_still", "closed_reset", "open_reset", "as_left")
MOST_ANSWERS = 400
AT_MOST_THE_SAME = 3


@pytest.fixture
def house(tmp_path: Path):
    with Service(tmp_path / "house") as service:
        yield service


def test_the_whole_job_on_two_pages(house):
    example = started_from_new(house)
    with chromium() as chrome:
        at_valve, told_valve = watched(chrome.new_context(**PHONE))
        technician = Technician(at_valve, example)
        technician.sign_in()
        technician.open_job()
        walked = play_to_the_end(technician, lambda: judge_and_release(chrome, example))
        job = at_valve.evaluate(f"fetch('/v1/jobs/{example.job}').then(answer => answer.json())")
    assert walked == [step.id for step in load_procedure(shipped_procedure("default")).steps]
    assert all(line["passed"] for line in job["steps"])
    told = [one["verdict"] for at in job["checkpoints"] for one in at["attempts"][-1]["findings"]]
    assert "agreed" in told
    assert not {"disputed", "off-chart", "impossible", "part-way"} & set(told)
    judged = {one["direction"]: one for one in job["strokes"]}
    assert (judged["closed"]["verdict"], judged["open"]["verdict"]) == ("fits", "differs")
    off = [one["sentence"] for one in judged["open"]["remarks"] if one["standing"] == "differs"]
    assert len(off) == 1
    assert "lamp is said to be dark" in off[0]
    assert told_valve.faults == []


def play_to_the_end(technician: Technician, second_person) -> list[str]:
    """Answer what is asked until every step has passed; returns the steps in the order in which they came."""
    page, steps, asked = technician.page, [], []
    for _ in range(MOST_ANSWERS):
        if page.locator("text=Every step has passed").count():
            return steps
        step = technician.step
        if step not in steps:
            steps.append(step)
        if step == "second_person":
            second_person()
            page.wait_for_selector("#now > div:not([data-step=second_person])", timeout=SLOW_MS)
            continue
        kind = technician.kind_asked()
        asked.append((step, kind, page.inner_text("#now .question .ask >> nth=0")))
        assert asked[-AT_MOST_THE_SAME:].count(asked[-1]) < AT_MOST_THE_SAME or kind == "contacts", asked[-1]
        technician.answer_plausibly(kind)
    raise AssertionError(f"never came to an end: {asked[-3:]}")


def judge_and_release(chrome, example) -> None:
    """Judge each checkpoint that the second person must have judged, blind, then release the hold point."""
    at_desk, told = watched(chrome.new_context(**DESK))
    verifier = Verifier(at_desk, example)
    name, password = example.people["verifier"]
    sign_in(at_desk, example.address, name, password, go="/desk")
    for step in JUDGED:
        verifier.open(step)
        verifier.wait_for_photo()
        seen = rotors_of(PHOTO_OF_STEP[step])
        asked = [rotor for rotor in seen if at_desk.locator(f"#must-{rotor}-tripped").count()]
        verifier.fill({rotor: (seen[rotor], seen[rotor]) for rotor in asked})
        verifier.store()
        assert "same at every judged contact" in at_desk.inner_text("#now")
        verifier.conclude("agree")
    verifier.open("second_person")
    verifier.release(password)
    assert told.faults == []
