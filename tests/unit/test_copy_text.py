"""Cells for COPY's text format. Escapes: PostgreSQL manual, COPY, "Text Format"."""

from __future__ import annotations

import datetime as dt

from stallkeep.store.copy_text import copy_text, json_values, plain_values, text_arrays, texts


def test_nothing_and_the_marks_of_nothing_are_told_apart() -> None:
    assert list(texts([None, "", r"\N"])) == [r"\N", "", r"\\N"]


def test_what_would_end_a_cell_is_escaped() -> None:
    assert list(texts(["a\tb", "a\nb", "a\rb", "a\\b", None])) == [
        r"a\tb",
        r"a\nb",
        r"a\rb",
        r"a\\b",
        r"\N",
    ]


def test_numbers_dates_and_moments_are_written_as_postgresql_reads_them() -> None:
    moment = dt.datetime(2026, 9, 11, 10, 12, tzinfo=dt.timezone(dt.timedelta(hours=2)))
    values = [-5, None, dt.date(2026, 9, 11), moment]
    assert list(plain_values(values)) == ["-5", r"\N", "2026-09-11", "2026-09-11 10:12:00+02:00"]


def test_an_arrays_own_marks_are_quoted_and_then_escaped() -> None:
    assert list(text_arrays([("a", 'b"c', "d\\e"), (), None])) == [
        r"""{"a","b\\"c","d\\\\e"}""",
        "{}",
        r"\N",
    ]


def test_json_is_escaped_too() -> None:
    assert list(json_values([{"a": "x\ny"}, None])) == [r'{"a":"x\\ny"}', r"\N"]


def test_rows_are_joined_from_columns() -> None:
    assert copy_text({"a": ["1", "2"], "b": ["ü", r"\N"]}) == "1\tü\n2\t\\N\n".encode()
