"""Exports as every language writes them come back as they were, or are asked about with reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from random import Random

from hypothesis import event, given, settings
from hypothesis import strategies as st
from tests.property.importers import exports
from tests.property.importers.exports import draw_export, draw_sales
from tests.property.importers.judging import judge
from tests.unit.importers.test_languages import PAYMENTS

from stallkeep_importers.resale_sales import ResaleSales

OFFERED: Mapping[str, Iterable[str]] = {
    "language": PAYMENTS,
    "currency": exports.CURRENCIES,
    "zone": exports.ZONES,
    "delimiter": ",;\t|",
    "codec": exports.CODECS,
    "mark": exports.MARKS,
    "group": exports.GROUPS,
    "sign": exports.SIGNS,
    "money": exports.MONEY,
    "wholes": exports.WHOLES,
    "day": exports.DAYS,
    "time": exports.TIMES,
    "shape": exports.SHAPES,
    "end": ("\n", "\r\n", "\r"),
}


@settings(max_examples=600, deadline=None)
@given(st.integers(0, 2**63).map(Random))
def test_an_export_of_any_language_is_read_back_equal_or_asked_about(dice: Random) -> None:
    export = draw_export(dice)
    judged = judge(export)
    event(judged.end)
    assert judged.wrong == [], export.style
    assert judged.rejects == [], export.style
    assert not judged.is_needless, export.style


@settings(max_examples=400, deadline=None)
@given(st.integers(0, 2**63).map(Random))
def test_sales_of_any_language_are_read_back_equal_or_asked_about(dice: Random) -> None:
    export = draw_sales(dice)
    judged = judge(export, ResaleSales())
    event(judged.end)
    assert judged.wrong == [], export.style
    assert judged.rejects == [], export.style
    assert not judged.is_needless, export.style


def test_the_exports_drawn_show_every_style() -> None:
    dice = Random(5)  # noqa: S311 - dice for tests
    drawn = [draw_export(dice).style for _ in range(1500)]
    for name, offered in OFFERED.items():
        assert {style[name] for style in drawn} == set(offered), name
