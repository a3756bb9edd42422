"""The data kept with the importers against the public sources they come from."""

from __future__ import annotations

import re

from babel import Locale
from babel.core import UnknownLocaleError
from babel.localedata import locale_identifiers
from iso4217 import Currency

from stallkeep_importers.cells.dates import bare_word, calendar, date_readings
from stallkeep_importers.cells.times import time_of
from stallkeep_importers.currencies import currencies_of, minor_units
from stallkeep_importers.words import languages

WIDTHS = [
    (context, width) for context in ("format", "stand-alone") for width in ("wide", "abbreviated")
]


def test_minor_units_are_those_of_iso_4217_list_one() -> None:
    """Source: ISO 4217 list one, through the package iso4217; 179 codes, some without units."""
    official = {each.code: each.exponent for each in Currency if each.exponent is not None}
    assert dict(minor_units()) == official


def test_the_codes_where_cldr_disagrees_are_read_by_iso() -> None:
    """Published check values, section 1: CLDR says 0 digits for these, ISO 4217 does not."""
    codes = ["AFN", "ALL", "IRR", "KPW", "LAK", "LBP", "MGA", "MMK", "RSD", "SOS", "SYP", "YER"]
    assert {minor_units()[code] for code in codes} == {2}
    assert minor_units()["IQD"] == 3


def test_every_sign_means_currencies_there_are() -> None:
    for sign in ("€", "$", "£", "kr", "zł", "Kč", "Fr.", "¥", "円", "R$", "CA$"):
        assert currencies_of(sign)
        assert currencies_of(sign) <= minor_units().keys()


def test_signs_of_one_currency_agree_with_cldr() -> None:
    """Source: CLDR 48 through babel: the standard sign of each currency in its own country."""
    for code, locale in (("EUR", "de"), ("GBP", "en_GB"), ("PLN", "pl"), ("CZK", "cs")):
        assert code in currencies_of(Locale.parse(locale).currency_symbols[code])
    for code, locale in (("SEK", "sv"), ("DKK", "da"), ("USD", "en"), ("CAD", "en_CA")):
        assert code in currencies_of(Locale.parse(locale).currency_symbols[code])


def test_months_of_every_language_are_those_of_cldr() -> None:
    """Source: CLDR 48 through babel: wide and abbreviated names, in both contexts."""
    for code in languages():
        for context, width in WIDTHS:
            for number, name in Locale(code).months[context][width].items():
                if not name[0].isdigit():
                    bare = bare_word(name).replace(".", "")
                    assert bare in calendar()["months"][str(number)], (code, name)


def test_no_month_name_means_two_months() -> None:
    names = [name for names in calendar()["months"].values() for name in names]
    assert len(names) == len(set(names))


def test_every_language_can_write_every_day_with_a_months_name() -> None:
    """Source: CLDR 48 through babel: wide names in the context of a date."""
    for code in languages():
        for number, name in Locale(code).months["format"]["wide"].items():
            text = f"2025年{number}月7日" if code == "ja" else f"7 {name} 2025"
            found = date_readings(text)
            assert str(found) == f"2025-{number:02}-07", (code, name)


def test_half_days_of_every_language_are_those_of_cldr() -> None:
    """Source: CLDR 48 through babel: the abbreviated names of am and pm."""
    for code in languages():
        periods = Locale(code).day_periods["format"]["abbreviated"]
        for half, hour in (("am", 2), ("pm", 14)):
            text = f"{periods[half]}2:22" if code == "ja" else f"2:22 {periods[half]}"
            found = time_of(text)
            assert isinstance(found, tuple), (code, text)
            assert found[0].hour == hour


def test_no_locale_writes_numbers_month_first_with_points() -> None:
    """Why 04.05.2025 is read day first. Source: short and medium formats of CLDR 48."""
    month_first = []
    for identifier in locale_identifiers():
        try:
            formats = Locale.parse(identifier).date_formats
        except (UnknownLocaleError, ValueError):
            continue
        patterns = [re.sub("'[^']*'", "", formats[width].pattern) for width in ("short", "medium")]
        month_first += [each for each in patterns if re.match(r"(M|MM)\s?\.\s?d", each)]
    assert month_first == []
