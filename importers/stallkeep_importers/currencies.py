"""Currencies: minor units of ISO 4217 and the signs people write."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def minor_units() -> Mapping[str, int]:
    """Digits after the decimal mark of every active currency, by code."""
    return {
        code: int(digits)
        for digits, codes in _data()["minor_units"].items()
        for code in codes.split()
    }


def shown(minor: int, currency: str) -> str:
    """Write minor units as people do, with the currency's decimals."""
    return f"{Decimal(minor).scaleb(-minor_units()[currency]):f}"


@cache
def currencies_of(sign: str) -> frozenset[str]:
    """Name every currency that what stands beside an amount may mean; none if unknown.

    Args:
        sign: An ISO code or a sign, as written.
    """
    text = sign.strip().strip(".").strip()
    if text.upper() in minor_units():
        return frozenset({text.upper()})
    found: list[str] = _data()["signs"].get(text.casefold(), [])
    return frozenset(found).intersection(minor_units())


@cache
def _data() -> dict[str, dict[str, Any]]:
    text = files("stallkeep_importers").joinpath("data/currencies.toml").read_text("utf-8")
    return tomllib.loads(text)
