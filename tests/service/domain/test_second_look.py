"""Pairs of looks: how often two disagreed, one look counted once, and few looks named as few."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.agreement import worth_of_second_look
from service.domain.job_looks import looks_of
from service.domain.refusals import BadDefinition
from service.domain.second_look import ENOUGH_LOOKS, Look, worth_of
from service.domain.sight import Served
from tests.service.domain.jobs import at, claim_and_photograph, meet_all, other

STEP = "closed_end"
states = st.sampled_from(["closed", "open"])
pairs = st.lists(st.tuples(states, states), min_size=1, max_size=60)


def alone(given_pairs):
    return [Look("9", "s", str(number), *pair) for number, pair in enumerate(given_pairs)]


@given(pairs)
def test_looks_that_stand_alone_are_the_plain_figures_of_their_pairs(given_pairs):
    found = worth_of(alone(given_pairs))
    kappa, agreed = worth_of_second_look(given_pairs)
    assert found.kappa.kappa == pytest.approx(kappa.kappa)
    low, high = found.total.interval
    assert (1 - high, 1 - low) == pytest.approx(agreed)
    assert found.total.disagreed == sum(one != two for one, two in given_pairs)


@given(st.lists(st.tuples(st.sampled_from("abcdef"), st.sampled_from("12345"), states, states), max_size=40))
def test_the_contacts_of_one_rotor_count_once_and_one_wrong_contact_makes_the_look_wrong(rows):
    looks = [Look(contact, "s", look, one, two) for look, contact, one, two in rows]
    if len({(one.look, one.contact) for one in looks}) < len(looks):
        with pytest.raises(BadDefinition, match="occurs twice"):
            worth_of(looks)
        return
    found = worth_of(looks)
    assert found.total.looks == len({one.look for one in looks})
    assert found.total.disagreed == len({one.look for one in looks if one.first != one.second})
    assert sum(one.looks for one in found.by_contact) == len(looks)


def test_few_looks_get_an_interval_and_no_word():
    found = worth_of(alone([("closed", "closed"), ("open", "open"), ("open", "closed")]))
    assert not found.enough
    assert "Too few looks" in found.sentence
    assert "moderate" not in found.sentence


@pytest.mark.outside(
    source="zero failures: 59 trials give 0.0495 at 95 % one-sided; Wilson two-sided is wider", confidence="C"
)
def test_that_nobody_disagreed_proves_neither_care_nor_needlessness():
    found = worth_of(alone([("closed", "closed"), ("open", "open")] * 30)[:59])
    low, high = found.total.interval
    assert low == 0
    assert high > 0.0495
    assert found.interval is None
    assert "neither that the second look is careful nor that it is not needed" in found.sentence


def test_looks_that_are_all_of_one_answer_are_never_enough():
    assert not worth_of(alone([("closed", "closed")] * (2 * ENOUGH_LOOKS))).enough
    assert worth_of(alone([("closed", "closed"), ("open", "open")] * ENOUGH_LOOKS)).enough


def test_no_look_is_no_data():
    found = worth_of([])
    assert (found.total.interval, found.kappa) == (None, None)
    assert "nothing to tell" in found.sentence


def test_an_answer_that_is_neither_closed_nor_open_is_refused():
    with pytest.raises(BadDefinition, match="closed or open"):
        worth_of([Look("9", "s", "1", "closed", "cannot_tell")])


def judged(**more):
    rig = at(STEP)
    meet_all(rig, STEP, besides={"judgement", "contacts"})
    claim_and_photograph(rig, STEP, **more)
    return rig


def test_a_blind_judgement_is_paired_with_claims_and_reading_rotor_by_rotor():
    rig = judged()
    rig.judge(STEP)
    found = looks_of(rig.state)
    told = worth_of(found.pairs["second person and technician"])
    judged_rotors = {
        contact.rotor
        for contact in rig.state.pinned.chart.contacts
        if contact.label in rig.state.pinned.judged(STEP)
    }
    assert told.total.looks >= len(judged_rotors)
    assert told.total.disagreed == 0
    assert {one.name for one in told.by_step} == {STEP}
    assert worth_of(found.pairs["second person and reader"]).total.looks == told.total.looks
    assert (found.left_out, found.opinions) == ({}, {"none given": 1})
    rig.agree(STEP, opinion="disagree")
    assert looks_of(rig.state).opinions == {"disagree": 1}


def test_where_all_agree_kappa_is_said_without_a_word_and_without_an_interval():
    found = worth_of(alone([("closed", "closed"), ("open", "open")] * ENOUGH_LOOKS))
    assert "without interval, since all agreed" in found.sentence
    assert "perfect" not in found.sentence


def test_enough_looks_that_disagree_now_and_then_get_kappa_its_interval_and_its_word():
    found = worth_of(
        alone([("closed", "closed"), ("open", "open")] * ENOUGH_LOOKS + [("closed", "open")] * 3)
    )
    assert "almost perfect" in found.sentence
    low, high = found.interval
    assert 0 < low < found.kappa.kappa < high <= 1


def test_a_second_person_who_sees_otherwise_disagrees_on_that_rotor_alone():
    rig = judged()
    seen = rig.expected(STEP)
    seen["9"] = other(seen["9"])
    rig.judge(STEP, seen=seen)
    told = worth_of(looks_of(rig.state).pairs["second person and technician"])
    assert told.total.disagreed == 1
    assert [one.name for one in told.by_contact if one.disagreed] == ["9"]


def test_what_the_reader_saw_otherwise_is_told_of_technician_and_reader():
    rig = judged(wrong=["12"])
    told = worth_of(looks_of(rig.state).pairs["technician and reader"])
    assert [one.name for one in told.by_contact if one.disagreed] == ["12"]


@pytest.mark.parametrize(
    ("more", "reason"),
    [
        ({"served": (Served("vera", "claim", STEP, 1, 0),)}, "judgements not blind"),
        ({"mode": "concurrent", "reason": "no signal"}, "judgements made concurrently"),
    ],
)
def test_a_judgement_that_is_no_second_look_is_left_out_and_counted(more, reason):
    rig = judged()
    rig.judge(STEP, **more)
    found = looks_of(rig.state)
    assert found.pairs["second person and technician"] == ()
    assert found.left_out == {reason: 1}
