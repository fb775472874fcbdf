"""The default procedure: every gate of it, and every way back."""

import pytest

from service.domain.incoming import Handover, Opinion
from service.domain.pinned import Valve
from tests.service.domain.jobs import (
    TAG,
    Rig,
    at,
    claim_and_photograph,
    meet,
    meet_all,
    other,
    pass_step,
    pinned,
    play_all,
    play_to,
)

TO_ISOLATION = (
    "isolate",
    "stored_energy",
    "cover_off",
    "prove_dead",
    "as_left",
    "second_person",
    "close_up",
    "restore_power",
    "direction_check",
)
KEPT = ("as_found", "closed_set", "closed_gear", "closed_still", "open_still", "proof_by_hand")


def here(step) -> Rig:
    return at(step, "default")


def test_a_whole_job_passes_from_opening_to_hand_back():
    rig = play_all(here("hand_back"))
    assert rig.state.closed
    assert rig.entries[-1].kind == "job_closed"


def test_a_replay_of_its_entries_gives_the_same_state():
    from service.domain.job import replay

    rig = play_all(here("hand_back"))
    assert replay(rig.state.pinned, rig.entries) == rig.state


@pytest.mark.outside(
    source="29 CFR 1910.147(d)(5) and 1910.333(b)(2)(ii)(D): stored energy relieved or blocked"
)
@pytest.mark.parametrize("left_out", ["pressure", "spring", "stem"])
def test_stored_mechanical_energy_is_relieved_or_blocked(left_out):
    rig = here("stored_energy")
    meet_all(rig, "stored_energy", besides={left_out})
    assert not rig.passed("stored_energy")


@pytest.mark.outside(source="29 CFR 1910.333(b)(2)(ii)(C): capacitors are discharged")
@pytest.mark.parametrize("left_out", ["waited", "capacitors"])
def test_the_cover_comes_off_after_the_waiting_time_and_the_capacitors(left_out):
    rig = here("cover_off")
    meet_all(rig, "cover_off", besides={left_out})
    assert not rig.passed("cover_off")


@pytest.mark.outside(
    source="29 CFR 1910.333(b)(2)(iv)(B): induced voltage and back-feed; every foreign circuit"
)
@pytest.mark.parametrize(
    "circuit", ["closed_signal_earth", "open_signal_earth", "heater_supply_earth", "control_supply_earth"]
)
def test_a_forgotten_foreign_circuit_holds_the_proof(circuit):
    rig = here("prove_dead")
    meet_all(rig, "prove_dead", besides={f"foreign_{circuit}"})
    name = circuit.removesuffix("_earth").replace("_", " ")
    assert f"{name} to earth" in rig.release("prove_dead", "tess").message


@pytest.mark.outside(source="common practice, no source: as found before anything is touched")
def test_nothing_is_set_before_as_found_is_recorded():
    rig = here("as_found")
    assert not rig.state.is_open("closed_set")
    rig.say("gear", {"item": "setting_gear", "state": "released"}, step="mid_set")
    assert rig.status("mid_set/released") == "unmet"


def test_as_found_is_recorded_and_never_gated_by_the_chart():
    rig = here("as_found")
    for label in rig.expected("as_found"):
        rig.say("contact", {"contacts": [label], "state": "closed"})
    rig.photograph(dict.fromkeys(rig.expected("as_found"), "open"))
    assert set(rig.verdicts("as_found").values()) == {"disputed"}
    assert rig.passed("as_found")


def test_as_found_asks_for_every_contact():
    rig = here("as_found")
    rig.photograph(dict.fromkeys(rig.expected("as_found"), "open"))
    for label in list(rig.expected("as_found"))[:-1]:
        rig.say("contact", {"contacts": [label], "state": "open"})
    assert not rig.passed("as_found")


@pytest.mark.outside(source="common practice, no source: no fine setting before both rotors show mid travel")
def test_no_end_is_set_before_both_end_rotors_are_at_rest():
    rig = here("both_mid")
    assert not rig.state.is_open("closed_set")
    meet_all(rig, "both_mid", besides={"contacts"})
    claim_and_photograph(rig, "both_mid", wrong=("12",))
    assert rig.release("both_mid", "tess").field == "reason"


MOVEMENTS = [
    ("turns", {"value": 3}),
    ("turns", {"more": 10}),
    ("travel", {"position": "moving_closed"}),
    ("travel", {"position": "moving_open"}),
    ("rotation", {"item": "hand_wheel", "state": "opening"}),
]


@pytest.mark.outside(source="common practice, no source: no movement while the setting gear is released")
@pytest.mark.parametrize(("intent", "slots"), MOVEMENTS)
def test_a_movement_while_the_setting_gear_is_released_voids_both_ends(intent, slots):
    rig = here("open_set")
    rig.say("travel", {"position": "moving_open"})
    rig.say("gear", {"item": "setting_gear", "state": "released"})
    assert rig.passed("closed_reset")
    rig.type(intent, slots)
    for step in ("closed_set", "closed_gear", "closed_tripped", "closed_still", "closed_reset", "open_set"):
        assert not rig.passed(step), step
    assert rig.state.current.id == "mid_set"


def test_a_movement_with_the_gear_engaged_voids_nothing():
    rig = here("closed_tripped")
    rig.type("travel", {"position": "moving_closed"})
    assert rig.passed("closed_gear")


def test_engaged_that_nobody_confirmed_does_not_take_released_away():
    rig = here("closed_set")
    meet_all(rig, "closed_set")
    rig.type("gear", {"item": "setting_gear", "state": "engaged"}, step="closed_gear")
    rig.type("travel", {"position": "moving_closed"}, step="closed_gear")
    assert not rig.passed("closed_set")


@pytest.mark.outside(
    source="common practice, no source: engaged again, and it moves with the drive; two things"
)
@pytest.mark.parametrize("left_out", ["engaged", "wiggle", "follows_1", "held", "other_end"])
def test_the_gear_counts_as_engaged_only_with_every_sign_of_it(left_out):
    rig = here("closed_gear")
    meet_all(rig, "closed_gear", besides={left_out})
    if left_out == "engaged":
        return
    assert not rig.passed("closed_gear")


def test_the_wiggle_check_counts_only_while_the_gear_stands_engaged():
    rig = here("closed_gear")
    rig.say("wiggle_check", {"result": "good"})
    assert rig.status("closed_gear/wiggle") == "unmet"


@pytest.mark.parametrize(
    ("intent", "slots"),
    [
        ("gear", {"item": "shaft", "state": "turns"}),
        ("wiggle_check", {"result": "bad"}),
        ("wiggle_check", {"result": "came_back"}),
        ("other_end", {"state": "moved"}),
    ],
)
def test_a_sign_that_the_gear_is_not_engaged_voids_the_ends_although_the_photos_look_right(intent, slots):
    rig = here("open_tripped")
    claim_and_photograph(rig, "open_tripped")
    assert set(rig.verdicts("open_tripped").values()) == {"agreed"}
    rig.type(intent, slots)
    assert not rig.passed("closed_gear")
    assert not rig.passed("open_gear")


def test_not_engaged_holds_the_gate_without_read_back():
    rig = here("closed_tripped")
    rig.speak("gear", {"item": "setting_gear", "state": "engaged", "negated": True}, confidence=0.3)
    assert rig.status("closed_gear/engaged") == "void"
    assert rig.state.current.id == "closed_gear"


def test_a_wrongly_set_rotor_is_off_the_chart_and_holds_the_end():
    rig = here("closed_tripped")
    meet_all(rig, "closed_tripped", besides={"contacts"})
    for label, want in rig.expected("closed_tripped").items():
        shown = other(want) if label in ("9", "3B", "17") else want
        rig.say("contact", {"contacts": [label], "state": "open" if want == "either" else shown})
    wrong = {
        label: other(want) if label in ("9", "3B", "17") else want
        for label, want in rig.expected("closed_tripped").items()
    }
    rig.photograph(wrong)
    assert rig.verdicts("closed_tripped")["9"] == "off-chart"
    assert rig.release("closed_tripped", "tess").field == "reason"


@pytest.mark.outside(source="common practice, no source: counted twice, repeatability")
def test_a_trip_that_does_not_repeat_holds_the_proof_by_hand():
    rig = here("proof_by_hand")
    meet_all(rig, "proof_by_hand", besides={"closed_second"})
    rig.say("trip_count", {"end": "closed", "count": "second", "value": 0.5})
    assert rig.status("proof_by_hand/closed_repeats") == "unmet"
    rig.say("trip_count", {"end": "closed", "count": "second", "value": 0.25})
    assert rig.passed("proof_by_hand")


@pytest.mark.outside(source="common practice, no source: a contact is best proved by a meter")
def test_every_stop_contact_is_metered():
    rig = here("proof_by_hand")
    meet_all(rig, "proof_by_hand", besides={"metered_9"})
    assert not rig.passed("proof_by_hand")


@pytest.mark.outside(source="29 CFR 1910.147(e)(1) and 1910.333(b)(2)(v): tools and jumpers are out")
@pytest.mark.parametrize(
    ("item", "slots"),
    [
        ("tools", {"item": "tools", "out": 1}),
        ("jumpers", {"item": "jumpers", "out": 1}),
        ("wires", {"item": "wires", "landed": 1}),
    ],
)
def test_what_went_in_comes_out_in_the_same_number(item, slots):
    rig = here("as_left")
    meet_all(rig, "as_left", besides={item})
    rig.say("returned", slots)
    assert rig.status(f"as_left/{item}_counted") == "unmet"
    assert rig.release("as_left", "tess").code == "held"


def test_a_jumper_put_in_later_sends_the_count_back():
    rig = here("as_left")
    rig.type("fitted", {"item": "jumpers", "in": 2})
    assert rig.status("counts_in/jumpers") == "void"
    assert rig.state.current.id == "counts_in"


@pytest.mark.outside(
    source="common practice, no source: a torque setting is not changed to make a limit right"
)
def test_a_torque_setting_that_changed_holds_as_left():
    rig = here("as_left")
    meet_all(rig, "as_left", besides={"torque"})
    rig.say("measure", {"quantity": "torque_setting", "when": "as_left", "value": 2.5, "unit": "step"})
    assert rig.status("as_left/torque_unchanged") == "unmet"
    assert rig.release("as_left", "tess").code == "held"


def test_the_second_person_judges_checkpoints_that_have_passed():
    rig = here("second_person")
    rig.judge("closed_still")
    rig.agree("closed_still")
    assert rig.status("second_person/closed_still_judged") == "met"


def test_the_second_person_may_judge_as_photos_arrive():
    rig = here("closed_reset")
    rig.judge("closed_still")
    rig.agree("closed_still")
    assert rig.status("second_person/closed_still_judged") == "met"


@pytest.mark.parametrize(
    "checkpoint", ["closed_still", "open_still", "closed_reset", "open_reset", "as_left"]
)
def test_without_a_judgement_of_each_marked_checkpoint_nothing_is_released(checkpoint):
    rig = here("second_person")
    meet_all(rig, "second_person", besides={f"{checkpoint}_judged"})
    assert rig.release("second_person").code == "held"


def test_a_disagreement_sends_the_job_back_to_that_checkpoint():
    rig = here("second_person")
    meet_all(rig, "second_person")
    rig.judge("closed_still", seen={**rig.expected("closed_still"), "9": "closed"})
    rig.do(Opinion(person="vera", step="closed_still", opinion="disagree", reason="contact 9 looks made"))
    assert rig.state.current.id == "closed_still"
    assert rig.passed("open_still")


@pytest.mark.outside(source="IEC 60079-1:2014 clause 5 and IEC 60079-17 practice: joint faces before closing")
@pytest.mark.parametrize(
    "left_out",
    [
        "faces_clean",
        "faces_undamaged",
        "faces_unpainted",
        "faces_photo",
        "wires",
        "plates",
        "bolts_fitted",
        "bolts_torqued",
        "bolt_torque",
        "last_photo",
        "cover",
    ],
)
def test_the_cover_counts_as_closed_only_with_faces_wires_plates_and_every_bolt(left_out):
    rig = here("close_up")
    meet_all(rig, "close_up", besides={left_out})
    assert rig.release("close_up", "tess").code == "held"


def test_damaged_joint_faces_hold_the_closing_at_once():
    rig = here("close_up")
    meet_all(rig, "close_up")
    rig.type("cover", {"item": "joint_faces", "state": "damaged"})
    assert rig.release("close_up", "tess").code == "held"


@pytest.mark.outside(source="29 CFR 1910.147(e)(3): each device is removed by the person who applied it")
def test_each_lock_is_removed_by_its_owner():
    rig = here("restore_power")
    meet_all(rig, "restore_power", besides={"unlocked_power"})
    slots = {"item": "lock", "source": "power", "state": "off"}
    rig.say("isolation", slots, person="omar")
    assert rig.status("restore_power/unlocked_power") == "unmet"
    assert rig.release("restore_power", "tess").code == "held"
    rig.say("isolation", slots, person="tess")
    assert rig.release("restore_power", "tess") is None


@pytest.mark.outside(source="29 CFR 1910.147(e)(2) and 1910.333(b)(2)(v): people are warned and clear")
def test_power_waits_until_people_are_clear():
    rig = here("restore_power")
    meet_all(rig, "restore_power", besides={"people"})
    assert rig.release("restore_power", "tess").code == "held"


def test_power_on_while_the_cover_is_off_sends_the_job_back_to_isolation():
    for step in ("as_found", "closed_still", "as_left", "second_person"):
        rig = here(step)
        rig.type("isolation", {"source": "power", "state": "on"})
        assert rig.status("isolate/source_power") == "void", step
        assert rig.state.current.id == "isolate", step
        assert not rig.passed("prove_dead"), step


def test_power_is_not_confirmed_on_when_somebody_says_that_the_cover_is_off():
    rig = here("restore_power")
    rig.type("cover", {"item": "cover", "state": "off"})
    rig.say("isolation", {"source": "power", "state": "on"}, step="restore_power")
    assert rig.status("restore_power/source_power") != "met"
    assert not rig.state.is_open("restore_power")


@pytest.mark.parametrize(
    ("intent", "slots"),
    [
        ("mark", {"at": "start"}),
        ("rotation", {"item": "motor", "state": "right_way"}),
        ("rotation", {"item": "motor", "state": "wrong_way"}),
        ("isolation", {"item": "start_attempt", "state": "started"}),
    ],
)
def test_electric_motion_before_the_second_persons_release_sends_the_job_back(intent, slots):
    rig = here("second_person")
    rig.type(intent, slots)
    assert rig.state.current.id == "isolate"
    assert not rig.passed("prove_dead")


@pytest.mark.outside(
    source="common practice, no source: bump between 25 and 75 percent before the first stroke"
)
@pytest.mark.parametrize(
    ("percent", "met"), [(24.9, False), (25, True), (75, True), (75.1, False), (0, False)]
)
def test_the_direction_check_starts_at_mid_travel(percent, met):
    rig = here("direction_check")
    meet_all(rig, "direction_check", besides={"place"})
    rig.say("travel", {"percent": percent, "of": "open"})
    assert (rig.release("direction_check", "tess") is None) is met


@pytest.mark.parametrize("left_out", ["hand_on_stop", "right_way", "hand_wheel"])
def test_the_direction_check_needs_a_hand_on_the_stop_the_right_way_and_a_still_handwheel(left_out):
    rig = here("direction_check")
    meet_all(rig, "direction_check", besides={left_out})
    assert rig.release("direction_check", "tess").code == "held"


def test_no_approach_to_an_end_before_the_direction_check():
    rig = here("direction_check")
    for step in ("tenth_closing", "tenth_opening", "stroke_closing"):
        assert not rig.state.is_open(step)


@pytest.mark.outside(
    source="common practice, no source: with the wrong rotation isolate again, prove dead again"
)
def test_a_wrong_direction_returns_the_job_to_isolation():
    rig = here("direction_check")
    rig.speak("rotation", {"item": "motor", "state": "wrong_way"}, confidence=0.3)
    assert rig.state.current.id == "isolate"
    assert not any(rig.passed(step) for step in TO_ISOLATION)
    assert all(rig.passed(step) for step in KEPT)


@pytest.mark.parametrize("slots", [{"cause": "torque"}, {"cause": "torque", "travel": "closing"}])
def test_a_torque_stop_where_the_chart_names_the_limit_returns_the_job_to_isolation(slots):
    rig = here("stroke_closing")
    rig.type("trip", slots)
    assert rig.state.current.id == "isolate"
    assert not any(rig.passed(step) for step in TO_ISOLATION)


def test_a_reopened_cover_returns_the_job_to_isolation():
    rig = here("hand_back")
    rig.type("cover", {"item": "cover", "state": "off"})
    assert rig.state.current.id == "isolate"
    assert not any(rig.passed(step) for step in TO_ISOLATION)


def test_after_the_way_back_the_job_goes_on_to_its_end():
    rig = here("direction_check")
    rig.type("rotation", {"item": "motor", "state": "wrong_way"})
    for step in [one.id for one in rig.state.pinned.procedure.steps]:
        if not rig.passed(step):
            pass_step(rig, step)
    assert rig.state.closed
    assert len(rig.state.attempts["as_left"]) == 2


def test_a_late_contradiction_under_power_returns_the_job_to_isolation():
    rig = here("direction_check")
    known = rig.state.step("closed_still").passed - 1
    slots = {"contacts": ["17"], "state": "open"}
    rig.type("contact", slots, person="omar", step="closed_still", known_seq=known)
    assert not rig.passed("closed_still")
    assert not rig.passed("second_person")
    assert not rig.passed("restore_power")
    assert rig.state.current.id == "isolate"


@pytest.mark.outside(source="common practice, no source: first approach stopped with about a tenth left")
@pytest.mark.parametrize(
    ("step", "percent", "met"),
    [
        ("tenth_closing", 10, True),
        ("tenth_closing", 0, False),
        ("tenth_closing", 90, False),
        ("tenth_opening", 90, True),
        ("tenth_opening", 100, False),
        ("tenth_opening", 10, False),
    ],
)
def test_the_first_approach_to_each_end_is_stopped_with_about_a_tenth_left(step, percent, met):
    rig = here("tenth_closing")
    meet_all(rig, step, besides={"place"})
    rig.say("travel", {"percent": percent, "of": "open"}, step=step)
    assert (rig.release(step, "tess") is None) is met


@pytest.mark.parametrize(("ing", "slots"), [("closing", {"cause": "limit", "travel": "closing"})])
def test_a_stroke_ends_by_what_the_chart_names_and_a_lamp_alone_proves_no_stop(ing, slots):
    rig = here(f"stroke_{ing}")
    meet_all(rig, f"stroke_{ing}", besides={"stopped_by"})
    rig.say("lamp", {"red": "off", "green": "on"})
    assert rig.release(f"stroke_{ing}", "tess").code == "held"
    rig.say("trip", slots)
    assert rig.release(f"stroke_{ing}", "tess") is None


def test_a_denied_limit_trip_holds_the_stroke():
    rig = here("stroke_closing")
    meet_all(rig, "stroke_closing", besides={"stroke"})
    rig.type("trip", {"cause": "limit", "travel": "closing", "negated": True})
    assert rig.status("stroke_closing/stopped_by") == "void"


@pytest.mark.parametrize("left_out", ["indication", "interlocks", "permit", "transmitter", "selector"])
def test_the_job_is_handed_back_only_with_everything_restored(left_out):
    rig = here("hand_back")
    meet_all(rig, "hand_back", besides={left_out})
    assert rig.release("hand_back", "tess").code == "held"


def test_a_handover_voids_the_proof_and_both_can_no_longer_be_the_second_person():
    rig = here("closed_still")
    rig.do(Handover(person="tess", to="omar", reason="end of shift"))
    assert rig.state.current.id == "prove_dead"
    play_to(rig, "second_person")
    assert rig.release("second_person", "omar").code in ("not-allowed", "held")


def test_a_break_under_power_asks_for_no_dead_proof():
    from service.domain.incoming import Break

    rig = here("stroke_closing")
    rig.do(Break(person="tess"))
    assert rig.passed("prove_dead")


def test_a_gas_reading_above_the_limit_or_run_out_holds_the_job():
    from datetime import timedelta

    rig = here("closed_still")
    rig.now += timedelta(hours=9)
    rig.type("control", {"action": "stand_by"})
    assert rig.status("prepare_permit/gas") == "void"
    assert rig.state.current.id == "prepare_permit"
    assert rig.passed("prove_dead")
    meet(rig, "prepare_permit/gas")
    meet(rig, "prepare_permit/oxygen")
    assert rig.state.current.id == "closed_still"
    rig.type("measure", {"quantity": "gas", "value": 11, "unit": "percent"})
    assert rig.state.current.id == "prepare_permit"


@pytest.mark.parametrize(
    "left_out", ["meter", "calibrated", "meter_approved", "lamp_approved", "phone_approved"]
)
def test_instrument_and_what_is_carried_in_are_identified(left_out):
    rig = here("prepare_means")
    meet_all(rig, "prepare_means", besides={left_out})
    assert not rig.passed("prepare_means")


def test_a_calibration_that_has_run_out_meets_nothing_for_long():
    rig = here("prepare_means")
    rig.say("calibration", {"item": "meter", "until": "2031-05-05"})
    rig.type("control", {"action": "stand_by"})
    assert rig.status("prepare_means/calibrated") == "void"


@pytest.mark.parametrize("slots", [{"item": "meter"}, {"item": "meter", "until": "some day"}])
def test_a_calibration_without_a_date_meets_nothing(slots):
    rig = here("prepare_means")
    rig.say("calibration", slots)
    assert rig.status("prepare_means/calibrated") != "met"


def test_concurrent_judgements_on_site_release_the_job_and_say_so():
    rig = here("second_person")
    for checkpoint in ("closed_still", "open_still", "closed_reset", "open_reset", "as_left"):
        rig.judge(checkpoint, person="omar", mode="concurrent", reason="no signal in the pit")
        rig.agree(checkpoint, person="omar")
    assert rig.release("second_person", "omar").code == "not-allowed"
    assert rig.release("second_person", "omar", mode="concurrent") is None
    assert rig.state.step("second_person").released.mode == "concurrent"


@pytest.mark.parametrize("end", ["closed", "open"])
def test_the_same_steps_play_from_either_end_first(end):
    rig = here("closed_set")
    for part in ("set", "gear", "tripped", "still", "reset"):
        pass_step(rig, f"{end}_{part}")
    assert rig.state.current.id == f"{other_end(end)}_set"


def other_end(end):
    return "open" if end == "closed" else "closed"


def test_a_valve_without_neutral_and_one_phase_asks_for_one_pair():
    job = pinned("default", valve=Valve(TAG, phases=1))
    assert len([need for need in job.procedure.step("prove_dead").needs if need.id.startswith("pair_")]) == 1
