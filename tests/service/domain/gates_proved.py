"""Every gate and way back of the whole job, with the step that holds it and the test that proves it.

`markdown` is the table that DEVELOPERS.md shows; `test_gates_proved` holds that each test named here exists.
"""

from typing import NamedTuple


class Proved(NamedTuple):
    """A gate in words, the steps of the default procedure that hold it, and the test."""

    gate: str
    steps: tuple[str, ...]
    test: str


WHOLE = "test_whole_job.py::"
HELD = "test_restricting.py::"
SECOND = "test_second_person.py::"
LATE = "test_late_truth.py::"
LINES = "test_device_lines.py::"
CLAIMS = "test_claims.py::"
ORDER = "test_safety_order.py::"
SEARCH = "test_no_gate_passes.py::"

PROVED: tuple[Proved, ...] = (
    Proved(
        "no step passes but with every condition met (search over met, unmet, void)",
        ("every step",),
        SEARCH + "test_no_combination_of_conditions_passes_a_step_but_all_of_them_met",
    ),
    Proved(
        "a hold point is passed by the right person only",
        ("every hold point",),
        SEARCH + "test_with_all_conditions_met_exactly_the_right_person_passes_it",
    ),
    Proved(
        "steps only in their order",
        ("every step",),
        SEARCH + "test_a_step_whose_forerunner_has_not_passed_never_passes",
    ),
    Proved(
        "no hold point is passed by any walk (state machine)",
        ("every hold point",),
        "test_job_machine.py::TestJob",
    ),
    Proved(
        "a file without a gate is refused by name",
        ("every gate",),
        ORDER + "test_a_procedure_without_a_gate_is_refused_by_name",
    ),
    Proved(
        "a file with gates in another order is refused by name",
        ("every gate",),
        ORDER + "test_a_procedure_with_gates_in_another_order_is_refused_by_name",
    ),
    Proved(
        "a file with a weakened gate is refused by name",
        ("every gate",),
        ORDER + "test_a_gate_that_lacks_one_of_its_needs_is_refused_by_name",
    ),
    Proved(
        "a file without a way back is refused by name",
        ("every way back",),
        ORDER + "test_a_procedure_without_a_way_back_is_refused_by_name",
    ),
    Proved(
        "what permits counts only once its read-back is confirmed",
        ("every step",),
        CLAIMS + "test_a_statement_that_nobody_confirmed_meets_nothing",
    ),
    Proved("a denial acts at once", ("every step",), CLAIMS + "test_a_denial_acts_at_once_without_read_back"),
    Proved(
        "every source off, locked and tagged apart",
        ("isolate",),
        HELD + "test_every_source_is_locked_and_tagged",
    ),
    Proved("a selector is no isolation", ("isolate",), HELD + "test_a_selector_in_off_isolates_nothing"),
    Proved(
        "a start is tried", ("isolate",), HELD + "test_without_a_start_attempt_the_isolation_does_not_pass"
    ),
    Proved(
        "stored mechanical energy relieved or blocked",
        ("stored_energy",),
        WHOLE + "test_stored_mechanical_energy_is_relieved_or_blocked",
    ),
    Proved(
        "waiting time and capacitors before the cover",
        ("cover_off",),
        WHOLE + "test_the_cover_comes_off_after_the_waiting_time_and_the_capacitors",
    ),
    Proved(
        "tester proved before and after",
        ("prove_dead",),
        HELD + "test_a_missing_proof_of_the_tester_leaves_the_readings_worth_nothing",
    ),
    Proved("every phase pair and earth", ("prove_dead",), HELD + "test_five_readings_of_six_do_not_pass"),
    Proved(
        "every foreign circuit", ("prove_dead",), WHOLE + "test_a_forgotten_foreign_circuit_holds_the_proof"
    ),
    Proved(
        "each value under the site's limit",
        ("prove_dead",),
        HELD + "test_a_voltage_above_the_limit_is_void_at_once_without_read_back",
    ),
    Proved("dead proof void after a break", ("prove_dead",), HELD + "test_a_break_voids_the_proof"),
    Proved(
        "dead proof void after a change of shift",
        ("prove_dead",),
        WHOLE + "test_a_handover_voids_the_proof_and_both_can_no_longer_be_the_second_person",
    ),
    Proved(
        "as found before anything is set",
        ("as_found",),
        WHOLE + "test_nothing_is_set_before_as_found_is_recorded",
    ),
    Proved(
        "both end rotors at rest before an end is set",
        ("both_mid",),
        WHOLE + "test_no_end_is_set_before_both_end_rotors_are_at_rest",
    ),
    Proved(
        "no movement while the setting gear is released; both ends void",
        ("closed_set", "open_set"),
        WHOLE + "test_a_movement_while_the_setting_gear_is_released_voids_both_ends",
    ),
    Proved(
        "setting gear engaged with every sign of it; the other end looked at again",
        ("closed_gear", "open_gear"),
        WHOLE + "test_the_gear_counts_as_engaged_only_with_every_sign_of_it",
    ),
    Proved(
        "a gear left released voids the ends although the photos look right",
        ("closed_gear", "open_gear"),
        WHOLE + "test_a_sign_that_the_gear_is_not_engaged_voids_the_ends_although_the_photos_look_right",
    ),
    Proved(
        "a wrongly set rotor holds the end",
        ("closed_tripped", "open_tripped"),
        WHOLE + "test_a_wrongly_set_rotor_is_off_the_chart_and_holds_the_end",
    ),
    Proved(
        "trips repeat",
        ("proof_by_hand",),
        WHOLE + "test_a_trip_that_does_not_repeat_holds_the_proof_by_hand",
    ),
    Proved("stop contacts metered", ("proof_by_hand",), WHOLE + "test_every_stop_contact_is_metered"),
    Proved(
        "torque setting unchanged",
        ("as_left",),
        WHOLE + "test_a_torque_setting_that_changed_holds_as_left",
    ),
    Proved(
        "jumpers, lifted wires and tools counted in and out",
        ("counts_in", "as_left"),
        WHOLE + "test_what_went_in_comes_out_in_the_same_number",
    ),
    Proved(
        "only agreed satisfies; anything else needs a reason",
        ("every checkpoint",),
        SECOND + "test_a_finding_that_is_not_agreed_is_released_only_with_a_reason",
    ),
    Proved(
        "a blind judgement of each marked checkpoint",
        ("second_person",),
        WHOLE + "test_without_a_judgement_of_each_marked_checkpoint_nothing_is_released",
    ),
    Proved(
        "whoever took part is no verifier",
        ("second_person",),
        SECOND + "test_whoever_took_part_can_neither_judge_nor_release",
    ),
    Proved(
        "blindness by what was served",
        ("second_person",),
        SECOND + "test_a_judgement_by_somebody_who_was_served_it_first_is_not_blind",
    ),
    Proved(
        "a concurrent check is labelled",
        ("second_person",),
        WHOLE + "test_concurrent_judgements_on_site_release_the_job_and_say_so",
    ),
    Proved(
        "a release names the newest head",
        ("every hold point",),
        HELD + "test_a_release_names_the_head_that_its_giver_saw",
    ),
    Proved(
        "no electric motion before the release",
        ("second_person",),
        WHOLE + "test_electric_motion_before_the_second_persons_release_sends_the_job_back",
    ),
    Proved(
        "joint faces, wires, plates, every bolt before the cover counts as closed",
        ("close_up",),
        WHOLE + "test_the_cover_counts_as_closed_only_with_faces_wires_plates_and_every_bolt",
    ),
    Proved(
        "each lock removed by its owner", ("restore_power",), WHOLE + "test_each_lock_is_removed_by_its_owner"
    ),
    Proved("people clear and warned", ("restore_power",), WHOLE + "test_power_waits_until_people_are_clear"),
    Proved(
        "power never on with the cover off",
        ("restore_power",),
        WHOLE + "test_power_on_while_the_cover_is_off_sends_the_job_back_to_isolation",
    ),
    Proved(
        "direction check between 25 and 75 %",
        ("direction_check",),
        WHOLE + "test_the_direction_check_starts_at_mid_travel",
    ),
    Proved(
        "direction check before any approach to an end",
        ("direction_check",),
        WHOLE + "test_no_approach_to_an_end_before_the_direction_check",
    ),
    Proved(
        "first approaches stopped with about a tenth left",
        ("tenth_closing", "tenth_opening"),
        WHOLE + "test_the_first_approach_to_each_end_is_stopped_with_about_a_tenth_left",
    ),
    Proved(
        "a stroke ends by what the chart names",
        ("stroke_closing", "stroke_opening"),
        WHOLE + "test_a_stroke_ends_by_what_the_chart_names_and_a_lamp_alone_proves_no_stop",
    ),
    Proved(
        "a stroke is marked whole and judged before its release",
        ("stroke_closing", "stroke_opening"),
        "test_stroke_judged.py::test_before_stop_and_lamps_are_confirmed_nothing_is_judged",
    ),
    Proved(
        "a stroke that is off holds the step and is released only with a reason",
        ("stroke_closing", "stroke_opening"),
        "test_stroke_judged.py::test_a_stroke_that_is_off_is_released_only_with_a_reason_which_stays_in_the_record",
    ),
    Proved(
        "a late mark that contradicts the stroke holds the job",
        ("stroke_closing", "stroke_opening"),
        "test_stroke_marks.py::test_a_late_mark_that_contradicts_the_stroke_holds_the_job",
    ),
    Proved(
        "no stroke is passed by any walk of marks, corrections and denials (state machine)",
        ("stroke_closing",),
        "test_stroke_machine.py::TestStroke",
    ),
    Proved(
        "a wrong direction returns to isolation",
        ("direction_check",),
        WHOLE + "test_a_wrong_direction_returns_the_job_to_isolation",
    ),
    Proved(
        "a torque stop where the chart names the limit returns to isolation",
        ("stroke_closing", "stroke_opening"),
        WHOLE + "test_a_torque_stop_where_the_chart_names_the_limit_returns_the_job_to_isolation",
    ),
    Proved(
        "a reopened cover returns to isolation",
        ("close_up",),
        WHOLE + "test_a_reopened_cover_returns_the_job_to_isolation",
    ),
    Proved(
        "a late contradiction returns to isolation",
        ("every checkpoint",),
        WHOLE + "test_a_late_contradiction_under_power_returns_the_job_to_isolation",
    ),
    Proved(
        "late truth voids what a gate rested on",
        ("every hold point",),
        LATE + "test_a_late_denial_of_what_the_gate_rested_on_opens_it_again",
    ),
    Proved("stop work by anyone", ("every step",), HELD + "test_anybody_may_stop_the_work"),
    Proved("stop work past a gap", ("every step",), HELD + "test_stop_acts_on_arrival_past_a_gap"),
    Proved(
        "resume by whoever stopped or is named there, with a reason",
        ("every step",),
        HELD + "test_the_stop_is_resumed_by_whoever_stopped_with_a_reason",
    ),
    Proved(
        "past a gap what permits waits", ("every step",), LINES + "test_past_a_gap_what_permits_is_pending"
    ),
    Proved(
        "handover is an entry",
        ("every step",),
        HELD + "test_a_handover_is_an_entry_voids_the_proof_and_both_took_part",
    ),
    Proved(
        "a gas reading runs out",
        ("prepare_permit",),
        WHOLE + "test_a_gas_reading_above_the_limit_or_run_out_holds_the_job",
    ),
    Proved(
        "everything restored at hand-back",
        ("hand_back",),
        WHOLE + "test_the_job_is_handed_back_only_with_everything_restored",
    ),
    Proved(
        "an end seated otherwise is refused by name",
        ("opening",),
        "test_procedure.py::test_a_torque_seated_end_is_refused_by_name",
    ),
)


def markdown() -> str:
    """Return the table for DEVELOPERS.md."""
    rows = [
        f"| {one.gate} | {', '.join(f'`{step}`' if '_' in step or step in PLAIN else step for step in one.steps)} "
        f"| `{one.test}` |"
        for one in PROVED
    ]
    return "\n".join(["| gate | step | test in tests/service/domain |", "|---|---|---|", *rows]) + "\n"


PLAIN = ("isolate",)
