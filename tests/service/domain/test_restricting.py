"""What holds the job back: stop, denial, a value outside its limits; on arrival, past any gap."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.incoming import Break, Clip, DefinitionChange, Handover, Release, Resume, Stop
from service.domain.pinned import SiteRules, Valve
from tests.service.domain.jobs import PEOPLE, TAG, Rig, at, meet, meet_all, pass_step, pinned, play_to

VOLTAGE = {"quantity": "voltage", "from": "line_one", "to": "earth", "unit": "V"}
PAIR = "prove_dead/pair_line_one_earth"


def stopped(person="tess", **more) -> Rig:
    rig = at("prove_dead")
    rig.do(Stop(person=person, reason="smoke", **more))
    return rig


@pytest.mark.parametrize("person", ["tess", "vera", "enid", "somebody else"])
def test_anybody_may_stop_the_work(person):
    assert stopped(person).state.stopped


def test_stop_is_heard_at_every_step_and_holds_the_job():
    for step in ("prepare", "isolate", "prove_dead", "closed_end", "done"):
        rig = at(step)
        rig.speak("control", {"action": "stop_work"})
        assert rig.state.stopped, step
        if not rig.state.pinned.procedure.step(step).hold_point:
            meet_all(rig, step)
            assert not rig.passed(step), step


def test_stop_acts_on_arrival_past_a_gap():
    rig = at("prove_dead")
    rig.type("control", {"action": "stop_work"}, gap=5)
    assert rig.state.stopped
    assert rig.state.devices["phone of tess"].waiting


def test_a_stop_that_was_spoken_acts_as_soon_as_it_is_heard_even_behind_a_gap():
    rig = at("prove_dead")
    clip = Clip(media="a", **rig.origin(gap=3))
    rig.do(clip)
    assert not rig.state.stopped
    rig.hear(clip.id, "control", {"action": "stop_work"}, confidence=0.2)
    assert rig.state.stopped


def test_nothing_passes_and_nothing_is_released_while_stopped():
    rig = at("prove_dead")
    meet_all(rig, "prove_dead")
    rig.do(Stop(person="vera"))
    refusal = rig.release("prove_dead", "tess")
    assert refusal.code == "held"
    assert not rig.passed("prove_dead")


def test_the_stop_is_resumed_by_whoever_stopped_with_a_reason():
    rig = stopped("omar")
    seq = rig.state.holds[0].seq
    assert rig.tries(Resume(person="tess", stop=seq, reason="fine again")).code == "not-allowed"
    assert rig.tries(Resume(person="omar", stop=seq, reason="  ")).code == "malformed"
    assert rig.tries(Resume(person="omar", stop=seq + 1, reason="fine again")).code == "not-found"
    assert rig.tries(Resume(person="omar", stop=seq, reason="steam, not smoke")) is None
    assert not rig.state.stopped


def test_a_person_named_in_the_stop_may_resume():
    rig = stopped("omar", may_resume=("vera",))
    assert rig.tries(Resume(person="vera", stop=rig.state.holds[0].seq, reason="talked to Omar")) is None


def test_every_stop_is_resumed_by_itself():
    rig = stopped("omar")
    rig.do(Stop(person="tess"))
    first, second = rig.state.holds
    rig.do(Resume(person="omar", stop=first.seq, reason="cleared"))
    assert rig.state.stopped
    rig.do(Resume(person="tess", stop=second.seq, reason="cleared"))
    assert not rig.state.stopped


def test_work_starts_again_by_voice_alone_resumes_nothing():
    rig = stopped("tess")
    rig.say("control", {"action": "resume_work"})
    assert rig.state.stopped


@given(st.floats(1.0001, 1000, allow_nan=False))
def test_a_voltage_above_the_limit_is_void_at_once_without_read_back(volts):
    rig = at("prove_dead")
    rig.type("measure", {**VOLTAGE, "value": volts})
    assert rig.status(PAIR) == "void"


def test_a_voltage_in_another_unit_meets_nothing_and_holds():
    rig = at("prove_dead")
    rig.say("measure", {**VOLTAGE, "value": 0.2, "unit": "kV"})
    assert rig.status(PAIR) == "void"
    assert rig.release("prove_dead", "tess").code == "held"


def test_the_same_reading_said_twice_does_not_stand_for_another_pair():
    rig = at("prove_dead")
    meet_all(rig, "prove_dead", besides={"pair_line_two_earth"})
    rig.say("measure", {**VOLTAGE, "value": 0.0})
    assert "line two to earth" in rig.release("prove_dead", "tess").message


@pytest.mark.outside(source="NFPA 70E (2018) 120.5(7), from memory: n conductors give n + n(n-1)/2 readings")
@pytest.mark.parametrize(
    ("phases", "neutral", "readings"), [(3, False, 6), (3, True, 10), (1, True, 3), (1, False, 1)]
)
def test_every_phase_to_phase_and_to_earth_is_asked_for(phases, neutral, readings):
    job = pinned(valve=Valve(TAG, phases=phases, neutral=neutral))
    pairs = [need for need in job.procedure.step("prove_dead").needs if need.id.startswith("pair_")]
    assert len(pairs) == readings


@pytest.mark.outside(source="NFPA 70E (2018) 120.5(7), from memory: five readings of six must not pass")
def test_five_readings_of_six_do_not_pass():
    step = "prove_dead"
    needs = at(step).state.pinned.procedure.step(step).needs
    for left_out in [need.id for need in needs if need.id.startswith("pair_")]:
        rig = at(step)
        meet_all(rig, step, besides={left_out})
        assert rig.release(step, "tess").code == "held", left_out


@pytest.mark.outside(source="29 CFR 1910.333(b)(2)(iv)(B): the tester is checked before and after")
@pytest.mark.parametrize("left_out", ["tester_before", "tester_after"])
def test_a_missing_proof_of_the_tester_leaves_the_readings_worth_nothing(left_out):
    rig = at("prove_dead")
    meet_all(rig, "prove_dead", besides={left_out})
    assert rig.release("prove_dead", "tess").code == "held"


@pytest.mark.outside(source="29 CFR 1910.333(b)(2)(ii)(B): a selector is not the sole means of de-energising")
def test_a_selector_in_off_isolates_nothing():
    rig = at("isolate")
    meet_all(rig, "isolate", besides={"source_power"})
    rig.say("isolation", {"item": "selector", "state": "off"})
    assert not rig.passed("isolate")
    meet(rig, "isolate/source_power")
    assert rig.passed("isolate")


@pytest.mark.outside(source="29 CFR 1910.147(d)(4)(ii)-(iii): lock and tag are two things")
@pytest.mark.parametrize(
    "left_out", ["lock_power", "lock_control_supply", "tagged_power", "tagged_control_supply"]
)
def test_every_source_is_locked_and_tagged(left_out):
    rig = at("isolate")
    meet_all(rig, "isolate", besides={left_out})
    assert not rig.passed("isolate")


@pytest.mark.outside(source="29 CFR 1910.333(b)(2)(iv)(A): try to start, then measure; both are required")
def test_without_a_start_attempt_the_isolation_does_not_pass():
    rig = at("isolate")
    meet_all(rig, "isolate", besides={"start_tried"})
    assert not rig.passed("isolate")


def test_voltage_present_sends_the_job_back_to_isolation():
    rig = at("closed_end")
    rig.speak("voltage_present", {})
    assert rig.state.current.id == "isolate"
    assert not rig.passed("prove_dead")
    held = [entry for entry in rig.entries if entry.kind == "gate_held"]
    assert held[-1].body["reason"] == "Voltage was reported."


def test_a_lock_found_off_later_voids_isolation_and_the_proof_that_rested_on_it():
    rig = at("closed_end")
    rig.type("isolation", {"item": "lock", "source": "power", "state": "off"})
    assert rig.status("isolate/lock_power") == "void"
    assert rig.state.current.id == "isolate"
    assert not rig.passed("prove_dead")


@pytest.mark.outside(source="29 CFR 1910.147(d)(5)(ii): verification goes on where energy can build up again")
def test_a_break_voids_the_proof():
    rig = at("closed_end")
    rig.do(Break(person="tess", cause="shift_change"))
    assert rig.state.current.id == "prove_dead"
    assert rig.status("prove_dead/tester_before") == "void"


def test_a_handover_is_an_entry_voids_the_proof_and_both_took_part():
    rig = at("closed_end")
    rig.do(Handover(person="tess", to="omar", reason="end of shift"))
    assert rig.state.current.id == "prove_dead"
    assert rig.state.technician == "omar"
    assert {"tess", "omar"} <= rig.state.took_part


def test_the_job_cannot_be_handed_to_somebody_without_the_role():
    rig = at("closed_end")
    assert rig.tries(Handover(person="tess", to="vera")).code == "not-allowed"


def test_a_pause_longer_than_the_site_allows_voids_the_proof_like_a_break():
    rig = play_to(Rig(pinned(rules=SiteRules(pause_limit_s=600))), "closed_end")
    rig.now += timedelta(seconds=601)
    rig.type("control", {"action": "stand_by"})
    assert rig.state.current.id == "prove_dead"


def test_a_release_names_the_head_that_its_giver_saw():
    rig = at("prove_dead")
    meet_all(rig, "prove_dead")
    seen = rig.state.head
    rig.type("control", {"action": "stand_by"})
    assert rig.release("prove_dead", "tess", head=seen).code == "outdated"
    assert rig.release("prove_dead", "tess") is None


@pytest.mark.outside(source="OWASP ASVS 5.0, 2.3.1: steps of a flow only in sequence, none skipped")
@pytest.mark.parametrize("person", sorted(PEOPLE))
def test_no_hold_point_is_released_before_it_is_open(person):
    rig = at("isolate")
    for step in ("prove_dead", "closed_end"):
        assert rig.release(step, person) is not None
    assert (
        rig.tries(Release(person=person, step="isolate", head=rig.state.head, fresh_sign_in=True)) is not None
    )


def test_a_step_that_is_no_hold_point_passes_by_itself_as_soon_as_its_needs_are_met():
    rig = Rig()
    pass_step(rig, "prepare")
    assert [entry.kind for entry in rig.entries][-1] == "step_passed"


def test_a_definition_that_changes_on_the_way_holds_the_job():
    rig = at("closed_end")
    change = DefinitionChange(
        person="enid", what="chart", was="0" * 64, now="1" * 64, reason="label corrected"
    )
    rig.do(change)
    assert rig.state.stopped
    assert rig.tries(Resume(person="tess", stop=rig.state.holds[0].seq, reason="seen")).code == "not-allowed"
    rig.do(Resume(person="enid", stop=rig.state.holds[0].seq, reason="only a label"))
    assert not rig.state.stopped


def test_a_definition_that_was_never_pinned_cannot_change():
    rig = at("closed_end")
    change = DefinitionChange(person="enid", what="weather", was="", now="", reason="")
    assert rig.tries(change).code == "conflict"


@pytest.mark.parametrize("person", ["vera", "enid", "stranger"])
def test_only_a_technician_or_administrator_hands_the_job_over(person):
    assert at("closed_end").tries(Handover(person=person, to="omar")).code == "not-allowed"
