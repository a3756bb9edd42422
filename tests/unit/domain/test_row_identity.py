"""Keys of rows. The digests were written down once: if they changed, every row would be new."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

import pytest

from stallkeep.domain.row_identity import Identified, columns_of, content_key, identify, seconds_of
from stallkeep_importers.contract import Transaction

SUMMER = dt.timezone(dt.timedelta(hours=2))
CARD = Transaction(
    record=2,
    line=2,
    kind="payment",
    amount_minor=2400,
    currency="EUR",
    occurred_on=dt.date(2026, 9, 11),
    occurred_at=dt.datetime(2026, 9, 11, 11, 40, tzinfo=SUMMER),
    external_id="p-2",
    method="card",
    fee_minor=65,
    note="A17-AH1",
)
SALE = Transaction(
    record=3,
    line=3,
    kind="sale",
    amount_minor=1500,
    currency="EUR",
    occurred_on=dt.date(2026, 9, 11),
    title="Blue jug",
    covers=("x", "y"),
    more={"Size": "M"},
)


def keys_of(*rows: Transaction) -> Identified:
    columns = columns_of(rows)
    return identify(columns, seconds_of(columns))


def test_keys_stay_what_they_were_when_rows_were_first_stored() -> None:
    keys = keys_of(CARD, SALE)
    assert keys.row_keys == ["i:payment:p-2", "c:a9b7c3e7c8574df8073fafb97b77e1cf"]
    assert keys.content_keys == [
        "eb19e93ba6c0275c9183a43a737a6022",
        "9f538cb3bb8313b1a0359fe9ef22c184",
    ]
    assert content_key(SALE) == UUID("9f538cb3bb8313b1a0359fe9ef22c184")


def changed(row: Transaction, **fields: object) -> Transaction:
    values = {name: getattr(row, name) for name in row.__struct_fields__}
    return Transaction(**{**values, **fields})


@pytest.mark.parametrize("field", ["record", "line"])
def test_where_a_row_stands_in_its_file_is_no_part_of_it(field: str) -> None:
    assert keys_of(changed(SALE, **{field: 99})) == keys_of(SALE)


def test_a_fee_told_later_is_a_new_version_of_the_same_row() -> None:
    before, after = keys_of(SALE), keys_of(changed(SALE, fee_minor=20))
    assert before.row_keys == after.row_keys
    assert before.content_keys != after.content_keys


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": "refund"},
        {"amount_minor": 1501},
        {"occurred_on": dt.date(2026, 9, 12)},
        {"title": "Blue bowl"},
        {"note": "x"},
    ],
)
def test_rows_without_an_id_are_known_by_what_they_say(fields: dict[str, object]) -> None:
    assert keys_of(changed(SALE, **fields)).row_keys != keys_of(SALE).row_keys


def test_one_moment_in_two_zones_is_one_row() -> None:
    assert CARD.occurred_at is not None
    no_id = changed(CARD, external_id=None)
    elsewhere = changed(no_id, occurred_at=CARD.occurred_at.astimezone(dt.UTC))
    assert keys_of(elsewhere) == keys_of(no_id)


def test_an_endless_id_is_cut_down_and_still_its_own() -> None:
    one, other = (keys_of(changed(CARD, external_id="9" * 300 + end)).row_keys[0] for end in "ab")
    assert one != other
    assert len(one) < 60
