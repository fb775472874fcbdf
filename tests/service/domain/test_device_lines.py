"""Items in sequence, gaps, and every order of arrival."""

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.incoming import Clip, GiveUpGap, HearingResult, Photo, ReadingResult, Typed
from tests.service.domain.jobs import at, claim_and_photograph, meet_all

OFF = {"source": "power", "state": "off"}


def typed(rig, slots, intent="isolation", **more):
    return Typed(intent=intent, slots=slots, **rig.origin(known_seq=rig.state.last_seq, **more))


def test_past_a_gap_what_permits_is_pending():
    rig = at("isolate")
    first = typed(rig, OFF)
    second = typed(rig, {"action": "confirm"}, "control")
    rig.do(second)
    assert rig.state.devices["phone of tess"].waiting
    assert rig.status("isolate/source_power") == "unmet"
    rig.do(first)
    assert rig.status("isolate/source_power") == "met"
    assert not rig.state.devices["phone of tess"].waiting


@pytest.mark.parametrize("order", list(permutations(range(4))))
def test_items_of_one_device_give_the_same_in_every_order_of_arrival(order):
    rig = at("isolate")
    items = [
        typed(rig, OFF),
        typed(rig, {"action": "confirm"}, "control"),
        typed(rig, {"source": "control_supply", "state": "off"}),
        typed(rig, {"action": "confirm"}, "control"),
    ]
    for place in order:
        rig.do(items[place])
    assert rig.status("isolate/source_power") == "met"
    assert rig.status("isolate/source_control_supply") == "met"


def test_a_clip_that_is_not_heard_yet_holds_back_what_was_made_after_it():
    rig = at("isolate")
    clip = Clip(media="a", **rig.origin())
    rig.do(clip)
    rig.say("isolation", {"source": "control_supply", "state": "off"})
    assert rig.status("isolate/source_control_supply") == "unmet"
    rig.do(HearingResult(clip=clip.id, hearing={"verdict": "refused", "reason": "silence"}))
    assert rig.status("isolate/source_control_supply") == "met"


def test_a_denial_past_a_gap_acts_on_arrival():
    rig = at("isolate")
    rig.say("isolation", OFF)
    rig.type("isolation", {**OFF, "negated": True}, gap=2)
    assert rig.status("isolate/source_power") == "void"


def test_a_correction_past_a_gap_acts_on_arrival():
    rig = at("isolate")
    rig.say("isolation", OFF)
    rig.type("control", {"action": "correction"}, gap=1)
    assert rig.status("isolate/source_power") == "void"


def test_a_contrary_contact_past_a_gap_withdraws_the_claim_on_arrival():
    rig = at("closed_end")
    claim_and_photograph(rig, "closed_end")
    rig.type("contact", {"contacts": ["9"], "state": "closed"}, gap=1)
    assert rig.status("closed_end/contacts") == "void"


def test_a_contrary_photo_past_a_gap_holds_the_gate_on_arrival():
    rig = at("closed_end")
    claim_and_photograph(rig, "closed_end")
    photo = Photo(media="f", **rig.origin(gap=1))
    rig.do(photo)
    rig.do(ReadingResult(photo=photo.id, contacts={"9": "closed"}))
    assert rig.status("closed_end/contacts") == "void"


def test_a_hold_point_is_not_released_over_pending_items_of_its_step():
    rig = at("closed_end")
    meet_all(rig, "closed_end")
    rig.type("note", {}, gap=1)
    assert rig.release("closed_end").code == "held"


def test_items_that_never_come_are_given_up_with_a_reason():
    rig = at("isolate")
    rig.say("isolation", OFF, gap=0)
    rig.say("isolation", {"source": "control_supply", "state": "off"}, gap=2)
    line = rig.state.devices["phone of tess"]
    missing = min(line.waiting) - 1
    assert rig.tries(GiveUpGap(person="tess", device="phone of tess", up_to=missing, reason=" ")) is not None
    assert (
        rig.tries(GiveUpGap(person="vera", device="phone of tess", up_to=missing, reason="lost")) is not None
    )
    rig.do(
        GiveUpGap(
            person="tess", device="phone of tess", up_to=max(line.waiting), reason="phone fell into the sump"
        )
    )
    assert rig.status("isolate/source_control_supply") == "met"


def test_two_devices_do_not_wait_for_each_other():
    rig = at("isolate")
    rig.type("isolation", OFF, gap=4)
    rig.say("isolation", {"source": "control_supply", "state": "off"}, person="omar")
    assert rig.status("isolate/source_control_supply") == "met"


def test_a_number_that_was_taken_before_is_kept_without_effect():
    rig = at("isolate")
    rig.say("isolation", OFF)
    rig.counts["phone of tess"] -= 2
    rig.say("isolation", {"source": "control_supply", "state": "off"})
    assert rig.status("isolate/source_control_supply") == "unmet"


ITEMS = st.sampled_from(["off", "confirm", "deny", "correct", "other", "stop"])


@settings(max_examples=60, deadline=None)
@given(st.lists(ITEMS, min_size=1, max_size=6), st.randoms(use_true_random=False))
def test_no_order_of_arrival_permits_more_than_the_order_in_which_things_were_made(words, chance):
    made = {
        "off": ("isolation", OFF),
        "confirm": ("control", {"action": "confirm"}),
        "deny": ("isolation", {**OFF, "negated": True}),
        "correct": ("control", {"action": "correction"}),
        "other": ("isolation", {"source": "power", "state": "on"}),
        "stop": ("control", {"action": "stop_work"}),
    }
    in_order, shuffled = at("isolate"), at("isolate")
    plain = [typed(in_order, made[word][1], made[word][0]) for word in words]
    other = [typed(shuffled, made[word][1], made[word][0]) for word in words]
    chance.shuffle(other)
    for item in plain:
        in_order.do(item)
    for item in other:
        shuffled.do(item)
    if shuffled.status("isolate/source_power") == "met":
        assert in_order.status("isolate/source_power") == "met"
    assert shuffled.state.stopped == in_order.state.stopped


@pytest.mark.parametrize("arrival", [(0, 2, 1), (1, 2, 0), (2, 0, 1), (2, 1, 0)])
@pytest.mark.parametrize("word", [{**OFF, "negated": True}, {"source": "power", "state": "on"}])
def test_what_restricts_still_does_when_it_arrives_before_what_it_contradicts(arrival, word):
    rig = at("isolate")
    made = [
        typed(rig, OFF, "isolation"),
        typed(rig, {"action": "confirm"}, "control"),
        typed(rig, word, "isolation"),
    ]
    for place in arrival:
        rig.do(made[place])
    assert rig.status("isolate/source_power") == "void"
