"""Answers that cannot be are refused by name, whatever the file."""

from __future__ import annotations

import pytest
from tests.unit.importers.reading import read, refused, table

DATA = table([("2025-05-03", "1.50", "x")])


@pytest.mark.parametrize(
    ("name", "value", "code"),
    [
        ("file_currency", "ZZZ", "currency-unknown"),
        ("currency", "eur", "currency-unknown"),
        ("delimiter", "#", "delimiter-unknown"),
        ("delimiter", ";;", "delimiter-unknown"),
        ("header_record", -1, "header-missing"),
        ("header_record", 99, "header-missing"),
        ("encoding", "klingon", "encoding-unknown"),
        ("encoding", "base64", "encoding-unknown"),
        ("encoding", "utf-16", "encoding-does-not-fit"),
        ("time_zone", "Mars/Olympus", "zone-unknown"),
        ("time_zone", "../zone", "zone-unknown"),
        ("columns", {"blorp": "Date"}, "field-unknown"),
    ],
)
def test_an_answer_that_cannot_be_is_refused(name: str, value: object, code: str) -> None:
    assert refused(DATA, **{name: value}).code == code


def test_a_field_can_be_said_not_to_be_there() -> None:
    header = ("Date", "Amount", "Type")
    data = table([("2025-05-03", "1.50", "blue"), ("2025-05-03", "1.50", "red")], header)
    assert [each.code for each in read(data).rejects] == ["kind-unknown"] * 2
    found = read(data, columns={"kind": ""})
    assert found.amounts == [150, 150]
    assert found.transactions[0].more == {"Type": "blue"}


def test_a_header_can_be_named_by_its_number() -> None:
    data = table([("2025-05-03", "1.50", "x")], ("Foo", "Bar", "Baz"))
    found = read(data, columns={"date": "#1", "amount": "#2", "note": "Baz"})
    assert [(each.amount_minor, each.note) for each in found.transactions] == [(150, "x")]
    assert [column.why for column in found.layout.columns] == ["you said so"] * 3
