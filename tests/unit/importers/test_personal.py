"""Personal data never pass the door."""

from __future__ import annotations

import pytest
from tests.unit.importers.reading import read, table

from stallkeep_importers.cells.personal import is_bank_account, is_card_number, passes_luhn


@pytest.mark.parametrize(
    ("digits", "valid"), [("79927398713", True), ("79927398710", False), ("4111111111111111", True)]
)
def test_luhn(digits: str, *, valid: bool) -> None:
    """7992739871 has check digit 3 (published check values, section 10); the last from memory."""
    assert passes_luhn(digits) is valid


@pytest.mark.parametrize(
    ("cell", "is_card"),
    [
        ("4111 1111 1111 1111", True),
        ("5500-0000-0000-0004", True),
        ("**** 1234", True),
        ("XXXX-XXXX-XXXX-1234", True),
        ("411111******1111", True),
        ("4111111111111112", False),
        ("2025-05-03", False),
        ("TN400512", False),
    ],
)
def test_card_numbers_are_known_whole_or_masked(cell: str, *, is_card: bool) -> None:
    assert is_card_number(cell) is is_card


def test_bank_accounts_are_known_by_their_check_digits() -> None:
    """The two examples of ISO 13616 that everybody prints (from memory)."""
    assert is_bank_account("DE89 3704 0044 0532 0130 00")
    assert is_bank_account("GB82WEST12345698765432")
    assert not is_bank_account("DE88 3704 0044 0532 0130 00")


@pytest.mark.parametrize(
    ("heading", "cell"),
    [
        ("Customer name", "Ona Example"),
        ("Buyer", "ona_ex"),
        ("Kunde", "Ona Beispiel"),
        ("Nom du client", "Ona Exemple"),
        ("購入者名", "見本 花子"),
        ("Card ending", "5391"),
        ("Date of birth", "1990-01-01"),
        ("Extra 1", "ona@example.org"),
        ("Extra 1", "4111 1111 1111 1111"),
        ("Extra 1", "+49 171 1234567"),
        ("Extra 1", "DE89 3704 0044 0532 0130 00"),
        ("Extra 1", "Invented Street 12".replace("Street", "Street") + ", 12 Mill Lane"),
        ("Contact e-mail", "ona@example.org"),
        ("Shipping address line 1", "Mill Lane 3"),
        ("Note", "ona@example.org"),
        ("Transaction ID", "ona@example.org"),
    ],
)
def test_personal_columns_are_dropped_and_listed(heading: str, cell: str) -> None:
    header = ("Date", "Amount", heading)
    rows = [("2025-05-03", "1.00", cell), ("2025-05-03", "x", cell), ("2025-05-03", "2.00", cell)]
    found = read(table(rows, header, ";"))
    assert found.amounts == [100, 200]
    assert [column.header for column in found.layout.columns if column.personal] == [heading]
    assert cell not in repr(found.outcomes)


def test_a_card_number_within_a_note_is_hidden() -> None:
    rows = [
        ("2025-05-03", "1.00", "paid with 4111 1111 1111 1111"),
        ("2025-05-03", "1.00", "a cup"),
    ]
    rows += [("2025-05-03", "1.00", f"cup {number}") for number in range(9)]
    found = read(table(rows))
    assert found.transactions[0].note == "paid with •••• •••• •••• ••••"


def test_rejects_of_ragged_rows_keep_nothing_personal() -> None:
    header = ("Date", "Amount", "Customer name", "Email")
    good = [("2025-05-03", "1.00", "Ona Example", "ona@example.org")] * 3
    bad = [("2025-05-03", "1.00", "extra", "Ona Example", "ona@example.org")]
    found = read(table([*good, *bad], header))
    assert [each.code for each in found.rejects] == ["ragged-record"]
    assert "Ona" not in repr(found.outcomes)
    assert "ona@" not in repr(found.outcomes)
    assert found.rejects[0].cells[:2] == ("2025-05-03", "1.00")


def test_no_confirmation_brings_a_personal_column_back() -> None:
    header = ("Date", "Amount", "Who")
    rows = [("2025-05-03", "1.00", f"ona{number}@example.org") for number in range(5)]
    found = read(table(rows, header), columns={"note": "Who"})
    assert "@example" not in repr(found.outcomes)


def test_ids_of_sixteen_digits_that_do_not_all_pass_are_no_cards() -> None:
    header = ("Date", "Amount", "Transaction ID")
    rows = [("2025-05-03", "1.00", str(4111111111111111 + number)) for number in range(20)]
    found = read(table(rows, header))
    assert found.transactions[0].external_id == "4111111111111111"


def test_tag_codes_and_titles_are_nobodys_data() -> None:
    header = ("Date", "Amount", "Tag code", "Title")
    found = read(table([("2025-05-03", "1.00", "2JP-C3X", "Blue Wool Jumper")], header))
    assert found.transactions[0].tag_code == "2JP-C3X"
    assert not any(column.personal for column in found.layout.columns)
