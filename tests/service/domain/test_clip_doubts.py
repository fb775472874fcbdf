"""A clip that is doubted by whoever recorded it restricts as ever, and permits nothing."""

import pytest

from service.domain.clip_doubts import DOUBTS, why_in_doubt
from service.domain.decisions import entry_of_item
from service.domain.incoming import Clip
from service.domain.job import waiting_read_backs
from tests.service.domain.jobs import Rig, at

SOURCE = ("isolation", {"source": "power", "state": "off"})
MET = "isolate/source_power"


def spoken(rig: Rig, intent: str, slots, *doubts: str) -> str:
    clip = Clip(media="d", doubts=doubts, **rig.origin(known_seq=rig.state.last_seq))
    rig.do(clip)
    rig.hear(clip.id, intent, slots)
    return clip.id


@pytest.mark.parametrize("doubt", [*DOUBTS, "not_heard_of"])
def test_a_doubted_claim_cannot_be_confirmed_and_says_why(doubt):
    rig = at("isolate")
    item = spoken(rig, *SOURCE, doubt)
    rig.speak("control", {"action": "confirm"})
    assert rig.status(MET) == "unmet"
    assert rig.state.claims[item].status == "without_effect"
    assert rig.state.claims[item].note in {*DOUBTS.values(), "The device that recorded it doubted it."}


def test_a_doubted_confirmation_confirms_nothing_and_the_claim_still_waits():
    rig = at("isolate")
    item = rig.speak(*SOURCE)
    heard = spoken(rig, "control", {"action": "read_back_right"}, "over_own_voice")
    assert rig.status(MET) == "unmet"
    assert [claim.item for claim in waiting_read_backs(rig.state)] == [item]
    assert "device itself" in rig.state.effects[rig.state.items[heard].entry.seq]


def test_the_read_back_picked_up_again_does_not_take_away_the_claim_that_it_reads_back():
    rig = at("isolate")
    item = rig.speak(*SOURCE)
    spoken(rig, *SOURCE, "over_own_voice")
    assert rig.state.claims[item].status == "pending"


def test_something_else_said_over_the_read_back_does_take_it_away():
    rig = at("isolate")
    item = rig.speak(*SOURCE)
    spoken(rig, "isolation", {"source": "power", "state": "on"}, "over_own_voice")
    assert rig.state.claims[item].status == "superseded"
    rig.speak("control", {"action": "confirm"})
    assert rig.status(MET) == "void"


@pytest.mark.parametrize("doubt", DOUBTS)
def test_a_doubted_denial_and_a_doubted_stop_act_at_once(doubt):
    rig = at("isolate")
    rig.say(*SOURCE)
    assert rig.status(MET) == "met"
    spoken(rig, "isolation", {**SOURCE[1], "negated": True}, doubt)
    assert rig.status(MET) == "void"
    spoken(rig, "control", {"action": "stop_work"}, doubt)
    assert rig.state.stopped


@pytest.mark.parametrize("action", ["correction", "read_back_wrong", "withdraw"])
def test_a_doubted_correction_takes_back(action):
    rig = at("isolate")
    rig.say(*SOURCE)
    spoken(rig, "control", {"action": action}, "over_own_voice")
    assert rig.status(MET) == "void"


def test_a_clip_without_doubts_is_recorded_as_it_always_was():
    rig = at("isolate")
    entry = entry_of_item(Clip(media="a", **rig.origin()))
    assert "doubts" not in entry.body
    doubted = entry_of_item(Clip(media="a", doubts=("cut_short",), **rig.origin()))
    assert doubted.body["doubts"] == ["cut_short"]


def test_nothing_is_known_against_an_entry_that_states_no_doubts():
    rig = at("isolate")
    rig.do(Clip(media="a", **rig.origin()))
    assert all(why_in_doubt(item.entry) is None for item in rig.state.items.values())
