"""Late truth: what was made before its device learned that a step had closed is never refused, and acts."""

import pytest

from service.domain.incoming import HearingResult
from tests.service.domain.jobs import Rig, at, claim_and_photograph, other, pass_step


def passed_with_known() -> tuple[Rig, int]:
    """A job whose checkpoint has passed, and the newest entry before it did."""
    rig = at("closed_end")
    known = rig.state.last_seq
    pass_step(rig, "closed_end")
    return rig, known


def late(rig, known, intent, slots, person="omar"):
    return rig.type(intent, slots, person=person, step="closed_end", known_seq=known)


def test_a_late_denial_of_what_the_gate_rested_on_opens_it_again():
    rig, known = passed_with_known()
    late(rig, known, "contact", {"contacts": ["17"], "state": "closed", "negated": True})
    assert not rig.passed("closed_end")
    assert rig.status("closed_end/contacts") == "void"
    assert rig.status("closed_end/judgement") == "void"
    held = [entry for entry in rig.entries if entry.kind == "gate_held"][-1]
    assert held.body["late"] is True
    assert held.body["step"] == "closed_end"


def test_a_late_claim_that_differs_opens_the_gate_again():
    rig, known = passed_with_known()
    late(rig, known, "contact", {"contacts": ["17"], "state": "open"})
    assert not rig.passed("closed_end")


def test_a_late_clip_contradicts_when_it_is_heard():
    rig, known = passed_with_known()
    clip = rig.speak(
        "contact", {"contacts": ["17"], "state": "open"}, person="omar", step="closed_end", known_seq=known
    )
    assert not rig.passed("closed_end")
    assert rig.state.troubles[-1].item == clip


def test_a_late_claim_that_agrees_changes_nothing():
    rig, known = passed_with_known()
    late(rig, known, "contact", {"contacts": ["17"], "state": "closed"})
    assert rig.passed("closed_end")


def test_an_item_whose_device_knew_that_the_step_had_closed_is_kept_without_effect():
    rig, _ = passed_with_known()
    item = late(rig, rig.state.last_seq, "contact", {"contacts": ["17"], "state": "open"})
    assert rig.passed("closed_end")
    assert rig.state.claims[item].status == "without_effect"


def test_an_item_that_does_not_say_what_its_device_knew_counts_as_late_truth():
    rig, _ = passed_with_known()
    late(rig, None, "contact", {"contacts": ["17"], "state": "open"})
    assert not rig.passed("closed_end")


def test_a_late_photo_that_shows_something_else_opens_the_gate_again():
    rig, known = passed_with_known()
    shown = {label: other(state) for label, state in rig.expected("closed_end").items()}
    rig.photograph(shown, person="omar", step="closed_end", known_seq=known)
    assert not rig.passed("closed_end")


@pytest.mark.parametrize("shown", ["closed", "none"])
def test_a_late_photo_that_shows_the_same_or_nothing_changes_nothing(shown):
    rig, known = passed_with_known()
    rig.photograph({"17": shown}, person="omar", step="closed_end", known_seq=known)
    assert rig.passed("closed_end")


def test_a_better_reading_of_the_same_photo_that_differs_opens_the_gate_again():
    rig, _ = passed_with_known()
    photo = rig.state.attempt("closed_end").photos[-1]
    shown = rig.expected("closed_end")
    rig.read(photo, {**shown, "17": other(shown["17"])})
    assert not rig.passed("closed_end")


def test_a_refused_second_reading_takes_nothing_away():
    rig, _ = passed_with_known()
    rig.read(rig.state.attempt("closed_end").photos[-1], {})
    assert rig.passed("closed_end")


def test_a_second_hearing_that_differs_opens_the_gate_again():
    rig = at("closed_end")
    rig.say("travel", {"position": "full_closed"})
    rig.say("travel", {"position": "moving_closed"})
    clip = rig.speak("contact", {"contacts": ["17", "12", "21"], "state": "closed"})
    rig.speak("control", {"action": "confirm"})
    rig.say("contact", {"contacts": ["9", "3B", "6B"], "state": "open"})
    rig.photograph(rig.expected("closed_end"))
    rig.judge("closed_end")
    rig.agree("closed_end")
    assert rig.release("closed_end") is None
    hearing = {
        "verdict": "heard",
        "intent": "contact",
        "slots": {"contacts": ["17"], "state": "closed", "negated": True},
    }
    rig.do(HearingResult(clip=clip, hearing=hearing))
    assert not rig.passed("closed_end")


def test_what_was_voided_late_passes_again_only_by_new_evidence_judgement_and_release():
    rig, known = passed_with_known()
    late(rig, known, "contact", {"contacts": ["17"], "state": "open"})
    assert rig.release("closed_end") is not None
    claim_and_photograph(rig, "closed_end")
    assert rig.release("closed_end") is not None
    rig.judge("closed_end")
    rig.agree("closed_end")
    assert rig.release("closed_end") is None
    assert len(rig.state.attempts["closed_end"]) == 2


def test_a_late_voltage_opens_the_proof_again_and_what_rested_on_it():
    rig = at("prove_dead")
    known = rig.state.last_seq
    pass_step(rig, "prove_dead")
    pass_step(rig, "closed_end")
    slots = {"quantity": "voltage", "from": "line_one", "to": "earth", "value": 230, "unit": "V"}
    rig.type("measure", slots, person="omar", step="prove_dead", known_seq=known)
    assert not rig.passed("prove_dead")
    assert not rig.passed("closed_end")
    assert rig.state.current.id == "prove_dead"
