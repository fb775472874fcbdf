"""Three-way communication: what permits counts only once its read-back was confirmed; what restricts does not wait."""

import pytest

from service.domain.incoming import Break, Clip, HearingResult, Resume, Stop, Typed
from service.domain.job import waiting_read_backs
from tests.service.domain.jobs import Rig, at, claim_and_photograph, pass_step


def at_isolation() -> Rig:
    return at("isolate")


SOURCE = ("isolation", {"source": "power", "state": "off"})
MET = "isolate/source_power"


@pytest.mark.outside(
    source="DOE-HDBK-1028-2009 vol. 2, three-way communication: not complete until the third part"
)
def test_a_statement_that_nobody_confirmed_meets_nothing():
    rig = at_isolation()
    item = rig.type(*SOURCE)
    assert rig.status(MET) == "unmet"
    assert [claim.item for claim in waiting_read_backs(rig.state)] == [item]
    rig.type("control", {"action": "confirm"})
    assert rig.status(MET) == "met"
    assert rig.state.condition(MET).item == item


def test_a_confirmation_by_somebody_else_confirms_nothing():
    rig = at_isolation()
    item = rig.type(*SOURCE)
    rig.type("control", {"action": "confirm"}, person="omar", answers=item)
    assert rig.status(MET) == "unmet"


def test_a_spoken_claim_counts_only_after_its_read_back_could_be_given():
    rig = at_isolation()
    clip = Clip(media="a", **rig.origin())
    confirmation = Clip(media="b", **rig.origin(known_seq=rig.state.last_seq))
    rig.do(clip)
    rig.do(confirmation)
    rig.hear(clip.id, *SOURCE)
    rig.hear(confirmation.id, "control", {"action": "confirm"})
    assert rig.status(MET) == "unmet"
    assert "before the read-back" in rig.state.effects[rig.state.items[confirmation.id].entry.seq]


def test_a_spoken_claim_and_a_spoken_confirmation_meet_the_condition():
    rig = at_isolation()
    rig.speak(*SOURCE)
    rig.speak("control", {"action": "confirm"})
    assert rig.status(MET) == "met"


@pytest.mark.outside(source="ASTM F1583-95: a mismatch is a repeat request, not a best guess")
@pytest.mark.parametrize("action", ["correction", "read_back_wrong", "withdraw"])
def test_a_correction_takes_the_newest_claim_away(action):
    rig = at_isolation()
    rig.say(*SOURCE)
    rig.type("control", {"action": action})
    assert rig.status(MET) == "void"
    rig.say(*SOURCE)
    assert rig.status(MET) == "met"


def test_a_correction_of_an_unconfirmed_claim_leaves_nothing_to_confirm():
    rig = at_isolation()
    rig.type(*SOURCE)
    rig.type("control", {"action": "read_back_wrong"})
    rig.type("control", {"action": "confirm"})
    assert rig.status(MET) == "unmet"


def test_a_correction_reaches_a_step_that_has_passed_and_opens_it_again():
    rig = at("prove_dead")
    last = rig.say("tester", {"result": "live", "when": "before"})
    item = rig.state.condition("isolate/source_power").item
    rig.type("control", {"action": "correction"}, answers=item)
    assert rig.status("isolate/source_power") == "void"
    assert rig.state.current.id == "isolate"
    assert rig.state.claims[last].status == "confirmed"


def test_a_denial_acts_at_once_without_read_back():
    rig = at_isolation()
    rig.say(*SOURCE)
    rig.type("isolation", {**SOURCE[1], "negated": True})
    assert rig.status(MET) == "void"


def test_a_refused_clip_meets_nothing_and_says_why():
    rig = at_isolation()
    rig.speak(None)
    rig.speak("control", {"action": "confirm"})
    assert rig.status(MET) == "unmet"
    assert any("too quiet" in words for words in rig.state.effects.values())


def test_a_newer_statement_on_the_subject_supersedes_an_unconfirmed_one():
    rig = at_isolation()
    older = rig.type(*SOURCE)
    rig.say(*SOURCE)
    assert rig.state.claims[older].status == "superseded"
    assert waiting_read_backs(rig.state) == ()


def test_a_second_hearing_that_differs_takes_the_claim_back_and_permits_nothing():
    rig = at_isolation()
    clip = rig.speak(*SOURCE)
    rig.speak("control", {"action": "confirm"})
    assert rig.status(MET) == "met"
    rig.hear(clip, "isolation", {**SOURCE[1], "negated": True})
    assert rig.status(MET) == "void"
    assert rig.state.claims[clip].status == "withdrawn"


def test_a_second_hearing_that_is_the_same_changes_nothing():
    rig = at_isolation()
    clip = rig.speak(*SOURCE)
    rig.speak("control", {"action": "confirm"})
    rig.hear(clip, *SOURCE)
    assert rig.status(MET) == "met"


def test_what_somebody_says_who_is_not_named_in_the_job_has_no_effect():
    rig = at_isolation()
    rig.say(*SOURCE, person="stranger")
    assert rig.status(MET) == "unmet"


def test_a_verifier_cannot_say_what_a_technician_must_say():
    rig = at_isolation()
    rig.say(*SOURCE, person="vera")
    assert rig.status(MET) == "unmet"


def test_a_statement_for_a_step_that_is_not_open_yet_is_kept_without_effect():
    rig = at_isolation()
    item = rig.say("tester", {"result": "live", "when": "before"}, step="prove_dead")
    assert rig.state.claims[item].status == "without_effect"
    assert rig.status("prove_dead/tester_before") == "unmet"


def test_a_contact_claim_counts_in_the_attempt_once_confirmed():
    rig = at("closed_end")
    rig.type("contact", {"contacts": ["9"], "state": "open"})
    rig.photograph(rig.expected("closed_end"))
    assert rig.verdicts("closed_end")["9"] == "seen"
    rig.type("control", {"action": "confirm"})
    assert rig.verdicts("closed_end")["9"] == "agreed"


def test_not_closed_withdraws_the_claim_and_a_reading_equal_to_it_is_disputed():
    rig = at("closed_end")
    claim_and_photograph(rig, "closed_end")
    assert rig.verdicts("closed_end")["17"] == "agreed"
    rig.type("contact", {"contacts": ["17"], "state": "closed", "negated": True})
    assert rig.verdicts("closed_end")["17"] == "disputed"
    assert rig.status("closed_end/contacts") == "void"


def test_a_claim_that_differs_withdraws_the_earlier_at_once():
    rig = at("closed_end")
    claim_and_photograph(rig, "closed_end")
    rig.type("contact", {"contacts": ["9"], "state": "closed"})
    assert rig.verdicts("closed_end")["9"] == "seen"


def test_a_claim_changed_after_the_reading_was_known_is_marked():
    rig = at("closed_end")
    claim_and_photograph(rig, "closed_end")
    rig.say("contact", {"contacts": ["9"], "state": "closed"})
    rig.say("contact", {"contacts": ["9"], "state": "open"})
    made = [e for e in rig.entries if e.kind == "finding_made" and e.body["label"] == "9"]
    assert made[0].body["changed_after_reading"] is False
    assert made[-1].body["changed_after_reading"] is True


def test_a_claim_changed_before_any_photo_is_not_marked():
    rig = at("closed_end")
    rig.say("contact", {"contacts": ["9"], "state": "closed"})
    claim_and_photograph(rig, "closed_end")
    made = [e for e in rig.entries if e.kind == "finding_made" and e.body["label"] == "9"]
    assert not any(entry.body["changed_after_reading"] for entry in made)


def test_turns_are_counted_by_tens_over_an_interruption_and_closed_by_the_total():
    rig = at("total_turns", "default")
    for _ in range(3):
        rig.say("turns", {"more": 10})
    rig.do(Stop(person="tess"))
    rig.do(Resume(person="tess", stop=rig.state.holds[0].seq, reason="looked at it"))
    assert rig.state.condition("total_turns/total").value == 30
    rig.say("turns", {"more": 8})
    rig.say("turns", {"value": 37})
    assert rig.status("total_turns/total") != "met"
    rig.say("turns", {"value": 38})
    assert rig.passed("total_turns")


def test_the_same_item_twice_is_taken_once_and_other_content_is_an_entry_of_its_own():
    rig = at_isolation()
    item = Typed(intent=SOURCE[0], slots=SOURCE[1], **rig.origin())
    assert len(rig.do(item)) == 1
    assert rig.do(item) == ()
    other = Typed(
        intent="isolation",
        slots={"source": "power", "state": "on"},
        id=item.id,
        person=item.person,
        device=item.device,
        device_seq=item.device_seq,
        step=item.step,
    )
    plan = rig.do(other)
    assert [entry.kind for entry in plan] == ["item_conflicted"]
    assert rig.state.items[item.id].statement.slots["state"] == "off"


def test_a_hearing_for_a_clip_that_there_is_not_is_refused():
    rig = at_isolation()
    assert rig.tries(HearingResult(clip="nothing", hearing={})).code == "not-found"


def test_the_rig_passes_a_step_by_the_plainest_right_way():
    rig = at_isolation()
    pass_step(rig, "isolate")
    assert rig.state.current.id == "prove_dead"


def test_after_a_denial_there_is_nothing_to_confirm():
    rig = at("closed_end")
    rig.type("contact", {"contacts": ["12"], "state": "closed"})
    rig.type("contact", {"contacts": ["9"], "state": "open"})
    rig.type("contact", {"contacts": ["9"], "state": "open", "negated": True})
    rig.type("control", {"action": "confirm"})
    assert rig.state.attempt("closed_end").claims == {}
    assert rig.state.attempt("closed_end").denied == {"9": "open"}


def test_a_claim_older_than_a_denial_by_somebody_else_can_no_longer_be_confirmed():
    rig = at_isolation()
    item = rig.type(*SOURCE)
    rig.type("isolation", {**SOURCE[1], "negated": True}, person="omar")
    rig.type("control", {"action": "confirm"}, answers=item)
    assert rig.status(MET) == "void"


def test_a_claim_older_than_what_voided_its_step_can_no_longer_be_confirmed():
    rig = at("prove_dead")
    rig.type("tester", {"result": "live", "when": "before"})
    rig.do(Break(person="tess"))
    rig.type("control", {"action": "confirm"})
    assert rig.status("prove_dead/tester_before") == "unmet"


def test_a_withdrawn_claim_cannot_be_confirmed_by_name():
    rig = at_isolation()
    item = rig.type(*SOURCE)
    rig.type("control", {"action": "correction"})
    rig.type("control", {"action": "confirm"}, answers=item)
    assert rig.status(MET) == "unmet"


def test_a_correction_after_a_denial_leaves_the_denial_standing():
    rig = at("closed_end")
    rig.say("contact", {"contacts": ["9"], "state": "open"})
    rig.type("contact", {"contacts": ["9"], "state": "open", "negated": True})
    rig.type("control", {"action": "correction"})
    assert rig.state.attempt("closed_end").denied == {"9": "open"}
    assert rig.state.attempt("closed_end").claims == {}


@pytest.mark.parametrize("person", ["enid", "vera", "stranger"])
def test_only_a_technician_claims_contacts_and_photographs_them(person):
    rig = at("closed_end")
    rig.say("contact", {"contacts": ["9"], "state": "open"}, person=person)
    rig.photograph(rig.expected("closed_end"), person=person)
    attempt = rig.state.attempt("closed_end")
    assert attempt is None or (attempt.claims == {} and attempt.photos == ())
