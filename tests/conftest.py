"""Settings for all tests: timings belong in benchmarks, and every run tries the same examples."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path

# As the command line does: matrices are small, and the processors are busy with other tests.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Else each program that a test starts compiles this package anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

import pytest
from hypothesis import settings

from netcheck.resources import folder

from . import lent

settings.register_profile("suite", deadline=None, derandomize=True, max_examples=20)
settings.load_profile("suite")
lent.to_all()
# A shell's background runs ignore it, and so does what they start: tests press Ctrl-C.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

WIDE = (
    "chassis/test_chassis.py", "circuits/test_sound.py", "compare/test_chassis_compared.py",
    "diagnose/test_derivatives.py", "diagnose/test_fast_path.py", "failures/test_text.py",
    "graph/test_redrawn.py", "jobsheet/test_customer.py", "jobsheet/test_page.py",
    "published/test_fast_path.py", "schematic/test_connections.py", "schematic/test_room.py",
    "schematic/test_svg.py", "travel/test_monte_carlo.py",
)  # fmt: skip
"""Tests that simulate or draw much on each of the example circuits."""
_SOME = frozenset({"two-6v6gt-foot", "two-el34-balance", "two-el34-zener"})
"""Some of the arrangements: all of them only with `--thorough`."""
LONG = (
    "chassis/test_chassis.py::test_every_fault_can_be_simulated_and_shows",
    "circuits/test_sound.py::test_a_shipped_circuit_gives_neither_error_nor_warning",
    "circuits/test_sound.py::test_typical_answers_give_neither_error_nor_warning",
    "cli/test_predict_command.py::test_a_meter_reads_less_than_there_is",
    "cli/test_predict_command.py::test_another_value_is_another_part[two-el34-zener",
    "cli/test_quiet.py::test_the_verdict_is_that_of_the_report[compare",
    "cli/test_quiet.py::test_the_verdict_is_that_of_the_report[diagnose",
    "cli/test_quiet.py::test_the_verdict_is_that_of_the_report[failures",
    "cli/test_quiet.py::test_the_verdict_is_that_of_the_report[parts",
    "cli/test_quiet.py::test_the_verdict_is_that_of_the_report[remedy",
    "cli/test_quiet.py::test_the_verdict_is_that_of_the_report[sweep",
    "compare/test_bands.py::test_bands_hold_95_of_100_sound_chassis[two-el34-zener",
    "compare/test_chassis_compared.py::test_a_misread_sign_is_not_hidden",
    "compare/test_chassis_compared.py::test_sound_chassis_are_consistent[two-el34-balance-2",
    "compare/test_chassis_compared.py::test_the_chassis_as_drawn_reads_as_predicted[two-el34-balance",
    "compare/test_compare_command.py::test_both_stages_are_shown_and_the_last_one_counts",
    "compare/test_compare_command.py::test_the_picture_has_every_reading_of_a_grid",
    "compare/test_curves.py::test_the_pot_that_was_turned_is_the_one_across_the_picture",
    "compare/test_repair.py::test_a_part_that_one_circuit_only_has_is_read_in_its_stage",
    "compare/test_repair.py::test_a_repair_that_failed_exits_with_1",
    "compare/test_repair.py::test_a_second_strap_that_stays_is_not_closed",
    "compare/test_repair.py::test_deviations_are_those_of_simulated_repairs",
    "compare/test_repair.py::test_nothing_done_is_seen_though_each_reading_is_within_its_band",
    "compare/test_repair.py::test_the_change_is_known_better_than_either_reading",
    "compare/test_repair.py::test_the_circuit_before_may_be_a_file",
    "compare/test_repair.py::test_the_window_decides_on_the_idle_current",
    "compare/test_repair.py::test_without_an_idle_current_it_stays_open",
    "diagnose/test_copper_and_junctions.py::test_half_a_winding_that_reads_open",
    "diagnose/test_derivatives.py::test_every_derivative[two-el34-zener",
    "diagnose/test_diagnose_command.py::test_a_mains_that_is_off_is_told",
    "diagnose/test_diagnose_command.py::test_nothing_fits",
    "diagnose/test_diagnose_command.py::test_standard_input_and_order_of_hashes",
    "diagnose/test_diode_test.py::test_its_derivatives[two-7591-bridge",
    "diagnose/test_diode_test.py::test_its_derivatives[two-kt88-full-wave",
    "diagnose/test_diode_test.py::test_ngspice_shows_the_same[two-6l6gc-selenium",
    "diagnose/test_diode_test.py::test_ngspice_shows_the_same[two-el34-zener",
    "diagnose/test_diode_test.py::test_ngspice_shows_the_same[two-el84-doubler",
    "diagnose/test_diode_test.py::test_ngspice_shows_the_same[two-kt88-full-wave",
    "diagnose/test_fast_path.py::test_faults_in_front_of_it[two-el34-balance",
    "diagnose/test_fast_path.py::test_sound_chassis[two-el34-balance",
    "diagnose/test_fit.py::test_every_likely_fit_has_arrived[two-6v6gt-foot",
    "diagnose/test_large.py::test_the_pair_is_among_those_that_are_weighed",
    "diagnose/test_links.py::test_an_open_link_is_named_or_among_the_suspects[W1",
    "diagnose/test_naming.py::test_a_leak_that_is_not_drawn_is_named[nodes1",
    "diagnose/test_naming.py::test_a_leak_that_is_not_drawn_is_named[nodes2",
    "engine/test_service.py::test_a_worker_that_was_forked_does_not_outlive_its_parent[3",
    "engine/test_service.py::test_nothing_leaks",
    "engine/test_steady.py::test_random_half_wave_supplies",
    "entry/test_dialog.py::test_cut_off_keeps_the_answers[eof-dumb",
    "entry/test_dialog.py::test_cut_off_keeps_the_answers[hang up",
    "entry/test_dialog.py::test_cut_off_keeps_the_answers[interrupt-dumb",
    "entry/test_dialog.py::test_cut_off_keeps_the_answers[terminate-dumb",
    "entry/test_templates.py::test_choices_all_read_back",
    "entry/test_templates.py::test_every_combination_of_parts_left_out_reads_back",
    "failures/test_cure.py::test_typed_into_the_circuit_it_makes_the_lifted_wiper_safe[text1",
    "failures/test_cure_mains.py::test_it_is_a_preferred_value_from_the_wiper_to_the_negative_end[text1",
    "failures/test_cure_mains.py::test_it_moves_the_travel_by_no_more_than_is_said",
    "failures/test_cure_mains.py::test_typed_into_the_circuit_it_makes_the_lifted_wiper_safe[text1",
    "failures/test_danger.py::test_the_most_dangerous_come_first[text2",
    "failures/test_directions.py::test_smoothing_open_hums_and_does_no_more",
    "failures/test_directions.py::test_what_stops_the_rectifier_or_grounds_the_line_loses_the_bias[C2 short",
    "failures/test_directions.py::test_without_its_safety_resistor_the_bias_is_lost[text0",
    "fuzz/test_lost_simulator.py::test_a_simulator_killed_in_the_middle[0",
    "fuzz/test_names.py::test_a_sheet_shows_nothing_of_a_file_that_is_no_circuit",
    "fuzz/test_odd_circuits.py::test_a_port_that_is_nearly_shorted[1.0",
    "fuzz/test_odd_circuits.py::test_an_answer_or_a_clear_refusal[1007",
    "fuzz/test_same_bytes.py::test_bytes_do_not_depend_on_the_order_of_sets[rectifier",
    "fuzz/test_same_bytes.py::test_bytes_do_not_depend_on_the_order_of_sets[supply",
    "fuzz/test_texts.py::test_no_input_breaks_a_command[later",
    "fuzz/test_texts.py::test_the_same_number_is_the_same_input",
    "jobsheet/test_browser.py::test_a_part_is_exchanged_and_shows_what_set_gives",
    "jobsheet/test_look.py::test_nothing_sticks_out_at_the_side[1400",
    "jobsheet/test_look.py::test_nothing_sticks_out_at_the_side[768",
    "jobsheet/test_panel.py::test_between_the_positions_ngspice_says_the_same[two-el34-zener",
    "jobsheet/test_panel.py::test_values_agree_with_ngspice[two-el34-zener",
    "jobsheet/test_panel.py::test_what_is_turned_is_in_every_drawer[two-6l6gc-audio-taper",
    "jobsheet/test_panel.py::test_what_is_turned_is_in_every_drawer[two-el34-zener",
    "jobsheet/test_screen.py::test_the_demonstration_is_the_shipped_job",
    "jobsheet/test_screen.py::test_without_a_file_the_command_prints_the_screen",
    "language/test_damaged_texts.py::test_a_long_text_is_given_up_soon",
    "language/test_format_command.py::test_anything_at_all_ends_as_findings",
    "library/test_library.py::test_every_answer_has_text_data_and_a_look[compare",
    "library/test_library.py::test_every_answer_has_text_data_and_a_look[remedy",
    "order/test_parts_command.py::test_an_open_part_named_and_measured_is_bought_once",
    "order/test_parts_command.py::test_the_first_remedy_is_bought",
    "published/test_fast_path.py::test_examples_agree_with_settled_transients[1.0-two-el34-balance",
    "published/test_fast_path.py::test_random_circuits_agree_with_settled_transients",
    "published/test_handbook.py::test_whole_sections_as_differential_equations[full-wave",
    "published/test_valve_sheets.py::test_our_form_meets_rows_left_out_better_than_the_publish",
    "remedy/test_command.py::test_from_readings_to_the_drawn_value",
    "remedy/test_studies.py::test_a_strap_does_little_at_first_and_much_near_the_end",
    "remedy/test_studies.py::test_the_best_by_the_fast_path_is_the_best_by_simulation",
    "remedy/test_studies.py::test_the_first_is_the_best_of_all[15k-12k",
    "remedy/test_studies.py::test_the_first_is_the_best_of_all[15k-68k",
    "rules/test_judgement.py::test_no_rule_breaks_down_whatever_is_drawn",
    "rules/test_rules.py::test_a_rule_finds_its_bad_example_and_not_its_good_one",
    "rules/test_rules.py::test_every_finding_says_what_why_and_what_to_do",
    "schematic/test_connections.py::test_anything_that_can_be_typed",
    "session/test_dialog.py::test_a_healthy_chassis_ends_it_with_nought",
    "session/test_sessions.py::test_a_valve_that_draws_grid_current_is_named",
    "session/test_sessions.py::test_another_circuit_with_two_pots",
    "session/test_terminal.py::test_a_session_that_is_killed_goes_on_where_it_stood",
    "session/test_terminal.py::test_interrupt_says_how_to_go_on",
    "sheet/test_sheet_damaged.py::test_a_long_sheet_without_errors",
    "sheet/test_sheet_damaged.py::test_a_long_text_is_given_up_soon",
    "sheet/test_sheet_damaged.py::test_damage_to_a_sheet_of_any_kind",
    "sheet/test_sheet_damaged.py::test_words_of_the_language_in_any_order",
    "substitution/test_agreement.py::test_a_chart_is_made_of_single_sweeps",
    "substitution/test_picture.py::test_two_runs_give_the_same_bytes",
    "travel/test_bands.py::test_against_chassis_simulated_whole",
    "travel/test_bands.py::test_corners_where_curves_bend[zener",
    "travel/test_bands.py::test_the_worst_corner_of_all_simulated_whole",
    "travel/test_monte_carlo.py::test_both_bands_agree_within_sampling_error_over_the_examples",
    "travel/test_monte_carlo.py::test_what_parts_them_is_what_the_formula_makes_of_one_large",
    "travel/test_prediction.py::test_two_rectifiers_feed_two_pots",
    "travel/test_tracing.py::test_between_the_points[coupled",
    "travel/test_tracing.py::test_between_the_points[doubler",
    "travel/test_tracing.py::test_heavy_and_very_light_loads[coupled",
    "valves/test_own_types.py::test_thousands_of_mistakes_are_no_matter_of_minutes",
    "valves/test_valve_fit.py::test_rows_however_absurd_give_a_usable_curve",
    "valves/test_valve_fit.py::test_the_script_writes_the_file",
)
"""Tests that take long beside what others do not find: only with `--thorough`."""


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--thorough", action="store_true",
                     help="The long tests too, on every example circuit.")  # fmt: skip


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what takes long, unless it is asked for."""
    if config.getoption("--thorough"):
        return
    every = {path.stem for path in folder("circuits").rglob("*.bias")}
    left_out = {item for item in items if _is_long(item, every)}
    if left_out:
        config.hook.pytest_deselected(items=list(left_out))
        items[:] = [item for item in items if item not in left_out]


def _is_long(item: pytest.Item, every: set[str]) -> bool:
    if any(f"tests/{name}" in item.nodeid for name in LONG):
        return True
    circuits = _circuits(item) & every
    is_wide = item.nodeid.partition("::")[0].endswith(WIDE)
    return is_wide and bool(circuits) and not circuits & _SOME


def _circuits(item: pytest.Item) -> set[str]:
    """The words among the parameters of a test, and the names of files."""
    call = getattr(item, "callspec", None)
    given = [] if call is None else call.params.values()
    words = {v for v in given if isinstance(v, str)}
    return words | {path.stem for path in given if isinstance(path, Path)}


@pytest.fixture(autouse=True)
def simulators_of_their_own(request: pytest.FixtureRequest) -> Iterator[None]:
    """The tests of the engine and those of what kills it are lent none."""
    if {"engine", "fuzz"} & set(request.path.parts):
        with lent.none():
            yield
    else:
        yield
