"""The hazards of real exports, each with the test that holds it; overlaps are the service's."""

from __future__ import annotations

import importlib

import pytest

BYTES, DIALECTS, STRUCTURE = "test_bytes", "test_dialects", "test_structure"
MONEY, TIMES, MEANING = "test_money", "test_dates_and_times", "test_meaning"
HAZARDS: dict[str, tuple[str, str]] = {
    "byte-order marks": (BYTES, "test_unicode_is_read_with_and_without_a_mark"),
    "UTF-16 without a mark": (BYTES, "test_unicode_is_read_with_and_without_a_mark"),
    "code pages": (BYTES, "test_code_pages_are_read_and_named"),
    "beyond ASCII only far below": (
        BYTES,
        "test_text_that_turns_beyond_ascii_only_far_below_is_decided_from_the_whole_file",
    ),
    "one bad byte": (BYTES, "test_one_bad_byte_costs_one_row"),
    "text encoded twice": ("test_said_around", "test_text_that_was_encoded_twice_is_said"),
    "NULs": (BYTES, "test_nuls_inside_a_row_cost_that_row"),
    "NULs at the end": (BYTES, "test_a_file_filled_up_with_nuls_was_cut_short"),
    "compressed": (BYTES, "test_gzip_is_looked_through"),
    "bombs": (BYTES, "test_a_gzip_bomb_stops_at_its_bound"),
    "other file types": (
        BYTES,
        "test_other_files_under_this_name_are_refused_by_what_they_are",
    ),
    "empty": (BYTES, "test_an_empty_file_is_refused"),
    "cut short": (BYTES, "test_a_file_cut_anywhere_in_its_last_row_is_never_taken_wrongly"),
    "huge cell": (BYTES, "test_a_cell_of_ten_megabytes_costs_one_row"),
    "each delimiter against busy text": (DIALECTS, "test_each_delimiter_is_found_in_busy_text"),
    "quote styles": (
        DIALECTS,
        "test_single_quotes_and_backslashes_are_read_where_the_file_uses_them",
    ),
    "stray quotes": (
        DIALECTS,
        "test_a_stray_quote_inside_a_cell_is_read_as_it_stands_and_said_so",
    ),
    "open quotes": (DIALECTS, "test_an_open_quote_costs_its_own_row_only"),
    "two stray quotes around rows": (
        DIALECTS,
        "test_two_stray_quotes_do_not_swallow_the_rows_between_them",
    ),
    "line ends": (DIALECTS, "test_mixed_line_ends_are_read"),
    "odd separators": (DIALECTS, "test_odd_separators_break_no_lines"),
    "wrapped lines": (DIALECTS, "test_lines_wrapped_in_quotes_as_a_whole_are_unwrapped"),
    "comments": (STRUCTURE, "test_comments_between_rows_are_skips"),
    "padded cells": (DIALECTS, "test_padded_cells_are_read"),
    "glued files": (DIALECTS, "test_glued_files_are_read_as_one"),
    "preamble": (STRUCTURE, "test_lines_above_the_header_are_skips"),
    "preamble that speaks for the rows": (
        "test_said_around",
        "test_a_line_above_that_names_the_currency_is_believed",
    ),
    "no heading": (STRUCTURE, "test_a_file_without_a_header_is_asked_for_its_columns"),
    "two headings": (
        "test_said_around",
        "test_a_second_header_in_another_language_is_a_skip",
    ),
    "repeated headings": (STRUCTURE, "test_a_heading_repeated_on_each_page_is_a_skip"),
    "blank and doubled headings": (
        STRUCTURE,
        "test_blank_and_doubled_headings_are_kept_apart",
    ),
    "unit rows": (STRUCTURE, "test_a_row_of_units_below_the_header_is_a_skip"),
    "totals": (STRUCTURE, "test_a_totals_line_is_a_skip_and_adds_up"),
    "subtotals": (STRUCTURE, "test_subtotals_by_day_are_skips"),
    "footers": (STRUCTURE, "test_remarks_below_the_table_are_skips"),
    "several tables": (STRUCTURE, "test_a_second_table_is_refused_and_its_line_named"),
    "ragged and shifted rows": (STRUCTURE, "test_ragged_rows_are_rejected_whole"),
    "wide files": (STRUCTURE, "test_a_wide_file_is_read"),
    "grouping and sign styles": (MONEY, "test_amounts_are_read_in_every_common_style"),
    "symbols and codes": (MONEY, "test_a_bare_sign_of_several_currencies_is_else_a_question"),
    "minor units by currency": (MONEY, "test_minor_units_are_those_of_iso_4217"),
    "minor units by heading": (
        MONEY,
        "test_the_heading_may_say_that_amounts_are_in_minor_units",
    ),
    "minor units nobody names": (
        "test_said_around",
        "test_large_whole_numbers_may_be_cents_and_are_asked_about",
    ),
    "undecidable decimals": (
        MONEY,
        "test_three_digits_behind_one_mark_alone_are_a_question",
    ),
    "contradictory decimals": (MONEY, "test_late_contradictions_stop_the_import_too"),
    "non-numbers": (MONEY, "test_what_is_no_amount_is_rejected"),
    "out of range": (MONEY, "test_an_amount_out_of_range_is_rejected"),
    "balance and percent decoys": (MONEY, "test_balance_and_percent_columns_are_no_amounts"),
    "order undecidable": (
        TIMES,
        "test_an_order_nothing_settles_is_asked_with_two_values_both_ways",
    ),
    "order settled late": (TIMES, "test_a_row_far_below_settles_the_order"),
    "order contradictory": (TIMES, "test_orders_that_contradict_each_other_are_a_question"),
    "two-digit years": (TIMES, "test_a_short_year_may_stand_first_or_last"),
    "month names": (TIMES, "test_month_names_of_the_twelve_languages_are_known"),
    "12 hours": (TIMES, "test_local_times_get_the_shops_offset"),
    "12 hours without am or pm": (
        "test_said_around",
        "test_a_time_without_its_half_of_the_day_is_doubtful_among_others_that_have_it",
    ),
    "split columns": (
        TIMES,
        "test_separate_columns_of_date_time_and_zone_are_put_together",
    ),
    "offsets and named zones": (TIMES, "test_an_offset_in_the_file_is_kept"),
    "zones in headings": (
        "test_said_around",
        "test_a_heading_that_names_utc_is_believed",
    ),
    "midnights that are none": (
        TIMES,
        "test_a_file_with_midnights_only_has_no_times_of_day",
    ),
    "the hour that comes twice": (TIMES, "test_the_hour_that_comes_twice_is_a_question"),
    "the hour that never was": (TIMES, "test_the_hour_that_never_was_is_rejected"),
    "serials": (TIMES, "test_spreadsheet_serial_numbers_are_never_taken_for_dates"),
    "impossible values": (TIMES, "test_what_never_was_is_rejected"),
    "kinds by word": (
        MEANING,
        "test_kinds_by_word_get_the_contracts_signs_in_an_unsigned_file",
    ),
    "kinds by sign": (MEANING, "test_a_minus_without_a_word_is_a_refund"),
    "fees either way": (MEANING, "test_a_net_column_shows_how_fees_are_written"),
    "tip, tax and net senses": (
        MEANING,
        "test_the_files_own_arithmetic_or_its_words_place_the_parts",
    ),
    "failed payments": (MEANING, "test_tries_that_came_to_nothing_are_never_payments"),
    "refunds on the payment's row": (
        MEANING,
        "test_a_refund_with_a_row_of_its_own_is_not_counted_twice",
    ),
    "orders of several lines": (
        "test_order_lines",
        "test_an_order_total_on_every_line_is_counted_once",
    ),
    "no ids and equal rows": (MEANING, "test_equal_rows_without_ids_are_both_there"),
    "ids that are none": ("test_headings", "test_a_count_of_the_rows_is_no_id"),
    "damaged ids": (MEANING, "test_ids_a_spreadsheet_damaged_are_not_taken_and_said"),
    "half-known headings": (
        "test_headings",
        "test_a_heading_that_is_half_known_is_not_used",
    ),
    "qualified amounts": ("test_headings", "test_qualifiers_tell_amounts_apart"),
    "personal data columns": (
        "test_personal",
        "test_personal_columns_are_dropped_and_listed",
    ),
    "formulas": (MEANING, "test_cells_a_spreadsheet_would_run_are_data"),
    "XML that is abused": (
        "test_bank_statements",
        "test_xml_that_is_no_statement_is_refused",
    ),
}


@pytest.mark.parametrize("hazard", HAZARDS)
def test_every_hazard_has_its_test(hazard: str) -> None:
    module, name = HAZARDS[hazard]
    assert callable(getattr(importlib.import_module(f"tests.unit.importers.{module}"), name))
