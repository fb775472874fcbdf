"""The transition function takes whatever a journal can hold: no entry stops a replay, none opens a gate by oddness."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.entries import KINDS, NewEntry, is_personal, kind_of
from service.domain.job import apply, replay
from service.domain.refusals import Conflict
from tests.service.domain.jobs import PEOPLE, START, Rig, at, pinned, play_all

STEPS = ("prepare", "isolate", "prove_dead", "closed_end", "done", "nowhere", None)
ITEMS = st.sampled_from(["item-1", "item-2", "item-3", "item-40", "new-1", "new-2"])
NAMES = st.sampled_from(
    ["9", "17", "closed", "open", "power", "live", "line_one", "R1", "agree", "stop_work"]
)
JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-5, 500)
    | st.floats(allow_nan=False)
    | NAMES
    | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(NAMES | st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=6,
)
SLOTS = st.dictionaries(
    st.sampled_from(
        ["item", "state", "action", "contacts", "closed", "open", "value", "unit", "rotor", "negated", "more"]
    ),
    JSON,
    max_size=5,
)
INTENTS = st.sampled_from(
    ["contact", "control", "travel", "measure", "isolation", "tag", "lamp", "turns", "gear", "note"]
)


@st.composite
def bodies(draw, kind):
    """A body of that kind: its own fields with fitting or with any values, and fields of nobody."""
    body = {name: draw(JSON) for name in KINDS[kind].fields if draw(st.booleans())} if kind in KINDS else {}
    body |= draw(st.dictionaries(st.text(max_size=4), JSON, max_size=2))
    if draw(st.booleans()):
        body |= {"step": draw(st.sampled_from(STEPS)), "known_seq": draw(st.none() | st.integers(0, 80))}
        body |= {"intent": draw(INTENTS), "slots": draw(SLOTS), "clip": draw(ITEMS), "photo": draw(ITEMS)}
        body |= {"hearing": {"verdict": "heard", "intent": draw(INTENTS), "slots": draw(SLOTS)}}
        body |= {"contacts": draw(st.dictionaries(NAMES, NAMES | JSON, max_size=3)), "head": draw(NAMES)}
    return body


@st.composite
def odd_entries(draw):
    kind = draw(st.sampled_from([*KINDS, "something_new", "clip_heard_again"]))
    return NewEntry(
        kind,
        draw(bodies(kind)),
        id=draw(ITEMS),
        person=draw(st.sampled_from([*PEOPLE, "stranger", None])),
        device=draw(st.sampled_from(["phone of tess", "another phone", None])),
        device_seq=draw(st.none() | st.integers(-2, 60)),
        version=draw(st.sampled_from([1, 1, 1, 2])),
    )


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(["prepare", "prove_dead", "closed_end", "done"]), st.lists(odd_entries(), max_size=8))
def test_no_entry_stops_a_replay_and_no_odd_entry_passes_a_hold_point(step, entries):
    rig = at(step)
    before = {one.id for one in rig.state.pinned.procedure.steps if rig.passed(one.id) and one.hold_point}
    state = rig.state
    for number, entry in enumerate(entries):
        state = apply(state, entry.sealed(state.last_seq + 1, START.isoformat(), f"odd {number}"))
    passed = {one.id for one in state.pinned.procedure.steps if state.step(one.id).passed is not None}
    assert {name for name in passed if state.pinned.procedure.step(name).hold_point} <= before


def test_a_kind_that_is_not_known_is_kept_and_moves_nothing():
    rig = at("isolate")
    before = rig.state
    rig._append(
        [
            NewEntry("moon_phase_noted", {"phase": "full"}),
            NewEntry("step_passed", {"step": "isolate"}, version=9),
        ]
    )
    assert rig.state.unknown == (before.last_seq + 1, before.last_seq + 2)
    assert rig.state.steps == before.steps


def test_entries_are_numbered_without_a_gap():
    rig = at("isolate")
    with pytest.raises(Conflict):
        apply(rig.state, NewEntry("note_added").sealed(rig.state.last_seq + 2, rig.stamp(), "x"))


@pytest.mark.parametrize("procedure", ["one_checkpoint", "default"])
def test_a_replay_is_the_same_as_applying_one_by_one(procedure):
    last = shipped_last(procedure)
    rig = play_all(at(last, procedure))
    assert replay(rig.state.pinned, rig.entries) == rig.state


def shipped_last(procedure):
    return pinned(procedure).procedure.steps[-1].id


def test_records_have_no_power_of_their_own():
    rig = play_all(at("done"))
    evidence = [entry for entry in rig.entries if kind_of(entry).power != "record"]
    renumbered = Rig()
    renumbered.state = type(rig.state)(rig.state.pinned)
    for number, entry in enumerate(evidence):
        body = dict(entry.body)
        if entry.kind == "hold_point_released":
            body["head"] = renumbered.state.head
        again = NewEntry(
            entry.kind,
            body,
            id=entry.id,
            person=entry.person,
            device=entry.device,
            device_seq=entry.device_seq,
        )
        renumbered.state = apply(renumbered.state, again.sealed(number, entry.received, f"again {number}"))
    assert renumbered.state.closed


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_is_past_tense_says_what_it_is_and_describes_its_fields(kind):
    known = KINDS[kind]
    assert known.says
    assert known.name == kind
    assert known.version == 1
    assert all(known.fields.values())
    assert kind.split("_")[-1] in PAST or kind.split("_")[-2] in PAST


PAST = {
    "opened",
    "taken",
    "made",
    "heard",
    "read",
    "given",
    "released",
    "stopped",
    "resumed",
    "over",
    "up",
} | {
    "conflicted",
    "changed",
    "passed",
    "held",
    "added",
    "closed",
    "refused",
    "handed",
    "judged",
    "computed",
}


def test_what_is_about_a_person_is_salted_and_a_kind_that_is_not_known_too():
    assert is_personal("clip_taken_in")
    assert is_personal("something_new")
    assert not is_personal("finding_made")


def test_only_evidence_and_acts_have_a_transition():
    from service.domain.transitions import TRANSITIONS

    with_power = {name for name, kind in KINDS.items() if kind.power != "record"}
    assert set(TRANSITIONS) == with_power
