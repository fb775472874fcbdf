"""Independence by person, blindness by what was served, the judgement, the opinion and the release."""

import pytest

from service.domain.incoming import Handover, Judgement, Opinion, Photo
from service.domain.pinned import SiteRules
from service.domain.sight import Served, blindness, may_see
from tests.service.domain.jobs import TAG, Rig, at, claim_and_photograph, meet_all, other, pinned, play_to

STEP = "closed_end"


def with_evidence(**more) -> Rig:
    rig = at(STEP)
    meet_all(rig, STEP, besides={"judgement", "contacts"})
    claim_and_photograph(rig, STEP, **more)
    return rig


@pytest.mark.outside(source="DOE-STD-1036-93: the verifier is not influenced by taking part")
def test_whoever_took_part_can_neither_judge_nor_release():
    rig = with_evidence()
    rig.type("note", {}, person="omar")
    given = Judgement(person="omar", step=STEP, tag=TAG, required=rig.expected(STEP), seen=rig.expected(STEP))
    assert rig.tries(given).code == "not-allowed"
    rig.judge(STEP)
    rig.agree(STEP)
    assert rig.release(STEP, "omar").code == "not-allowed"
    assert rig.release(STEP, "vera") is None


def test_whoever_judged_cannot_take_part_afterwards():
    rig = with_evidence()
    rig.judge(STEP, person="omar")
    assert rig.tries(Handover(person="tess", to="omar")).code == "not-allowed"
    item = rig.say("contact", {"contacts": ["9"], "state": "open"}, person="omar")
    assert rig.state.claims[item].status == "without_effect"


@pytest.mark.parametrize("person", ["tess", "enid", "stranger"])
def test_only_a_verifier_judges(person):
    rig = with_evidence()
    given = Judgement(person=person, step=STEP, tag=TAG, required={}, seen={})
    assert rig.tries(given).code == "not-allowed"


@pytest.mark.outside(
    source="DOE-EM-STD-5505-96, 6.10: actual identification, required position, actual position"
)
@pytest.mark.parametrize(
    ("wrong", "fault"),
    [
        ({"tag": "RW205"}, "the tag read"),
        ({"required": {}}, "required state"),
        ({"seen": {"9": "cannot_tell"}}, "was seen"),
    ],
)
def test_a_judgement_states_identity_required_and_seen_state(wrong, fault):
    rig = with_evidence()
    rig.judge(STEP, **wrong)
    rig.agree(STEP)
    assert any(fault in word for word in rig.state.attempt(STEP).judgements[-1].faults)
    assert rig.release(STEP).code == "held"


def test_a_judgement_needs_a_photo():
    rig = at(STEP)
    given = Judgement(person="vera", step=STEP, tag=TAG, required={}, seen={})
    assert rig.tries(given).code == "conflict"


def test_no_agreement_without_a_judgement():
    rig = with_evidence()
    assert rig.tries(Opinion(person="vera", step=STEP, opinion="agree")).code == "conflict"


@pytest.mark.outside(source="DOE-STD-1036-93: a verifier who is told first tends to assume that it was right")
@pytest.mark.parametrize("what", ["claim", "reading", "finding", "expected"])
def test_a_judgement_by_somebody_who_was_served_it_first_is_not_blind(what):
    rig = with_evidence()
    attempt = rig.state.attempt(STEP).number
    rig.judge(STEP, served=(Served("vera", what, STEP, attempt, 3),))
    rig.agree(STEP)
    assert rig.state.attempt(STEP).judgements[-1].faults == ("the judgement was not blind",)
    assert rig.release(STEP).code == "held"


def test_servings_of_photo_travel_and_other_people_take_no_blindness_away():
    rig = with_evidence()
    served = (
        Served("vera", "photo", STEP, 1, 3),
        Served("vera", "travel", STEP, 1, 3),
        Served("omar", "claim", STEP, 1, 3),
        Served("vera", "claim", "prove_dead", 1, 3),
    )
    assert blindness(rig.state, STEP, "vera", served).blind


def test_what_was_seen_of_an_earlier_attempt_after_judging_it_is_said_and_not_held_against():
    rig = with_evidence()
    rig.judge(STEP)
    rig.agree(STEP, opinion="disagree")
    served = (Served("vera", "finding", STEP, 1, 50),)
    seen = blindness(rig.state, STEP, "vera", served)
    assert seen.blind
    assert seen.saw_before == ("finding of attempt 1",)


@pytest.mark.parametrize("opinion", ["disagree", "another_photo"])
def test_anything_but_agreement_holds_the_gate_and_begins_a_new_attempt(opinion):
    rig = with_evidence()
    rig.judge(STEP)
    rig.agree(STEP, opinion=opinion)
    assert len(rig.state.attempts[STEP]) == 2
    assert rig.release(STEP).code == "held"
    claim_and_photograph(rig, STEP)
    rig.judge(STEP)
    rig.agree(STEP)
    assert rig.release(STEP) is None


def test_another_photo_may_be_asked_for_before_judging():
    rig = with_evidence()
    assert rig.tries(Opinion(person="vera", step=STEP, opinion="another_photo")) is None
    assert rig.status("closed_end/contacts") == "void"


def test_a_photo_taken_after_the_judgement_asks_for_another_judgement():
    rig = with_evidence()
    rig.judge(STEP)
    rig.agree(STEP)
    rig.photograph(rig.expected(STEP))
    assert rig.release(STEP).code == "held"


@pytest.mark.outside(source="OWASP ASVS 5.0, 2.3.5: high-value flows need a second person")
def test_a_technician_cannot_release_what_a_verifier_must():
    rig = with_evidence()
    rig.judge(STEP)
    rig.agree(STEP)
    assert rig.release(STEP, "tess").code == "not-allowed"


def test_a_release_needs_a_fresh_sign_in():
    rig = with_evidence()
    rig.judge(STEP)
    rig.agree(STEP)
    assert rig.release(STEP, fresh_sign_in=False).code == "not-allowed"


def test_a_finding_that_is_not_agreed_is_released_only_with_a_reason():
    rig = with_evidence(wrong=("9",))
    seen = {**rig.expected(STEP), "9": "closed"}
    rig.judge(STEP, seen=seen)
    rig.agree(STEP)
    assert rig.verdicts(STEP)["9"] == "disputed"
    assert rig.release(STEP).field == "reason"
    assert rig.release(STEP, reason="metered by hand, bar bent") is None
    assert rig.state.step(STEP).released.waived == {"closed_end/9": "disputed"}


def test_a_reason_covers_the_finding_that_it_was_given_for_and_no_other():
    rig = with_evidence(wrong=("9",))
    rig.judge(STEP, seen={**rig.expected(STEP), "9": "closed"})
    rig.agree(STEP)
    assert rig.release(STEP, reason="metered by hand, bar bent") is None
    known = rig.state.step(STEP).passed - 1
    rig.type("contact", {"contacts": ["12"], "state": "open"}, person="omar", step=STEP, known_seq=known)
    assert not rig.passed(STEP)


def test_without_a_photo_no_reason_releases():
    rig = at(STEP)
    assert rig.release(STEP, reason="trust me").code == "held"


@pytest.mark.outside(
    source="DOE-STD-1036-93: concurrent dual verification is recorded apart from independent"
)
def test_a_concurrent_check_is_labelled_and_never_becomes_independent():
    rig = with_evidence()
    assert rig.tries(judgement(rig, mode="concurrent")).field == "reason"
    rig.do(judgement(rig, mode="concurrent", reason="no signal in the pit"))
    rig.do(Opinion(person="omar", step=STEP, opinion="agree"))
    assert rig.release(STEP, "omar", mode="concurrent") is None
    assert rig.state.step(STEP).released.mode == "concurrent"
    assert "omar" not in rig.state.judged


def test_a_concurrent_check_by_the_one_who_said_it_is_refused():
    rig = with_evidence()
    rig.type("contact", {"contacts": ["9"], "state": "open"}, person="omar")
    assert rig.tries(judgement(rig, mode="concurrent", reason="no signal")).code == "not-allowed"


def test_a_concurrent_release_needs_that_persons_own_concurrent_judgement():
    rig = with_evidence()
    rig.judge(STEP)
    rig.agree(STEP)
    assert rig.release(STEP, "omar", mode="concurrent").code == "not-allowed"


def test_a_site_may_allow_no_concurrent_check():
    rig = play_to(Rig(pinned(rules=SiteRules(concurrent_allowed=False))), STEP)
    rig.photograph(rig.expected(STEP))
    assert rig.tries(judgement(rig, mode="concurrent", reason="no signal")).code == "not-allowed"


def judgement(rig, person="omar", **more) -> Judgement:
    return Judgement(
        person=person, step=STEP, tag=TAG, required=rig.expected(STEP), seen=rig.expected(STEP), **more
    )


def test_the_verifier_sees_photo_and_travel_only_until_the_judgement_is_stored():
    rig = with_evidence()
    assert may_see("vera", rig.state) == {f"photo:{STEP}", f"travel:{STEP}"}
    rig.judge(STEP)
    assert f"claim:{STEP}" in may_see("vera", rig.state)
    assert f"reading:{STEP}" in may_see("vera", rig.state)


def test_the_technician_is_told_what_the_chart_expects_only_after_claim_and_photo():
    rig = at(STEP)
    assert f"expected:{STEP}" not in may_see("tess", rig.state)
    rig.photograph(rig.expected(STEP))
    assert f"expected:{STEP}" not in may_see("tess", rig.state)
    claim_and_photograph(rig, STEP)
    assert {f"expected:{STEP}", f"finding:{STEP}"} <= may_see("tess", rig.state)


def test_of_two_roles_the_one_that_must_not_be_primed_counts():
    rig = with_evidence()
    assert may_see("omar", rig.state) == {f"photo:{STEP}", f"travel:{STEP}"}
    rig.type("note", {}, person="omar")
    assert f"claim:{STEP}" in may_see("omar", rig.state)


def test_who_is_not_named_in_the_job_sees_nothing():
    assert may_see("stranger", with_evidence().state) == frozenset()


def test_photos_of_one_burst_that_differ_show_nothing():
    rig = at(STEP)
    shown = rig.expected(STEP)
    for contacts in (shown, {**shown, "9": other(shown["9"])}):
        photo = Photo(media="a", burst="one", **rig.origin())
        rig.do(photo)
        rig.read(photo.id, contacts)
    assert rig.verdicts(STEP)["9"] == "unshown"
    assert rig.verdicts(STEP)["17"] == "seen"


def test_a_gate_waits_for_the_reading_of_every_photo():
    rig = with_evidence()
    rig.photograph()
    assert rig.status("closed_end/contacts") == "void"
    assert rig.release(STEP).code == "held"


def test_moving_the_valve_begins_a_new_attempt_and_keeps_the_old_one():
    rig = with_evidence()
    rig.say("travel", {"position": "full_closed"})
    first, second = rig.state.attempts[STEP]
    assert first.photos
    assert not second.photos
    assert rig.status("closed_end/contacts") == "void"
