"""What a statement is about, and what it contradicts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.statements import (
    contact_states,
    contradicts,
    fits,
    may_both_be,
    pattern_of,
    plain_tag,
    statement_of,
    subject,
)


def said(intent, **slots):
    return statement_of(intent, slots)


def test_a_pair_of_conductors_is_the_same_whichever_is_named_first():
    one = said("measure", quantity="voltage", **{"from": "line_two", "to": "line_one"}, value=0.2, unit="V")
    other = said("measure", quantity="voltage", **{"from": "line_one", "to": "line_two"}, value=0.2, unit="V")
    assert one == other


def test_not_engaged_never_fits_and_always_contradicts():
    engaged = pattern_of("gear", {"item": "setting_gear", "state": "engaged"})
    denied = said("gear", item="setting_gear", state="engaged", negated=True)
    assert not fits(engaged, denied)
    assert contradicts(engaged, denied)


def test_not_released_contradicts_engaged_too_since_doubt_restricts():
    engaged = pattern_of("gear", {"item": "setting_gear", "state": "engaged"})
    assert contradicts(engaged, said("gear", item="setting_gear", state="released", negated=True))


def test_another_pair_of_conductors_is_another_subject():
    pair = pattern_of("measure", {"quantity": "voltage", "from": "line_one", "to": "earth"})
    assert not contradicts(pair, said("measure", quantity="voltage", **{"from": "line_two", "to": "earth"}))


def test_a_lock_that_is_off_says_nothing_of_its_source():
    source = pattern_of("isolation", {"source": "motor_supply", "state": "off"})
    assert not fits(source, said("isolation", item="lock", source="motor_supply", state="off"))


def test_direction_place_and_back_off_are_three_subjects_of_travel():
    subjects = {
        subject("travel", slots)
        for slots in (
            {"position": "moving_closed"},
            {"position": "full_closed"},
            {"percent": 50, "of": "open"},
            {"position": "backed_off", "turns": 1},
        )
    }
    assert len(subjects) == 3


def test_a_lamp_pattern_asks_only_for_its_own_colour():
    red = pattern_of("lamp", {"red": "on"})
    assert fits(red, said("lamp", red="on", green="off"))
    assert contradicts(red, said("lamp", red="off"))
    assert not contradicts(red, said("lamp", green="off"))


@pytest.mark.parametrize(
    ("slots", "states"),
    [
        ({"contacts": ["9"], "state": "closed"}, {"9": "closed"}),
        ({"contacts": ["9", "3B"], "state": "just_open"}, {"9": "open", "3B": "open"}),
        ({"closed": ["17"], "open": ["19", "20"]}, {"17": "closed", "19": "open", "20": "open"}),
    ],
)
def test_a_contact_statement_says_one_state_a_contact(slots, states):
    assert contact_states(statement_of("contact", slots)) == states


def test_a_tag_is_the_same_with_or_without_hyphen():
    assert fits(
        pattern_of("tag", {"of": "valve", "value": "RW-204"}), said("tag", of="valve", value="rw 204")
    )
    assert plain_tag("RW-204") == "RW204"


def test_clean_and_undamaged_may_both_be_and_clean_and_damaged_may_not():
    assert may_both_be("clean", "undamaged")
    assert not may_both_be("clean", "damaged")


@given(
    st.dictionaries(
        st.sampled_from(["item", "state", "rotor"]), st.sampled_from(["a", "b", 1, 2]), min_size=1
    )
)
def test_a_statement_fits_its_own_pattern_and_its_denial_does_not(slots):
    assert fits(pattern_of("anything", slots), statement_of("anything", slots))
    assert not fits(pattern_of("anything", slots), statement_of("anything", {**slots, "negated": True}))
