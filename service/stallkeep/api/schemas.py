"""The pieces every body is made of: texts, money, and the way from rows to what a client sees."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Annotated, Any, TypeVar, get_type_hints

from msgspec import UNSET, Meta, Struct

from stallkeep.api.problems import field_error
from stallkeep.domain.errors import MoneyTextError
from stallkeep.domain.money import from_text, to_text

Shown = TypeVar("Shown", bound=Struct)

_NOT_NUL = r"^[^\x00]*$"

Word = Annotated[str, Meta(min_length=1, max_length=100, pattern=_NOT_NUL)]
Title = Annotated[str, Meta(min_length=1, max_length=300, pattern=_NOT_NUL)]
Note = Annotated[str, Meta(max_length=4000, pattern=_NOT_NUL)]
Moment = Annotated[dt.datetime, Meta(tz=True, description="RFC 3339, with offset")]
Quantity = Annotated[int, Meta(ge=1, le=1_000_000)]

Money = Annotated[
    str,
    Meta(
        pattern=r"^-?[0-9]{1,13}(\.[0-9]{1,4})?$(?!\n)",
        description="Decimal string in the shop's currency, with all its decimals",
        examples=["12.50"],
    ),
]
Price = Annotated[
    str,
    Meta(
        pattern=r"^[0-9]{1,13}(\.[0-9]{1,4})?$(?!\n)",
        description="Decimal string in the shop's currency, with all its decimals, not below 0",
        examples=["12.50"],
    ),
]


class Body(Struct, forbid_unknown_fields=True, kw_only=True):
    """Base of what clients send: a field nobody knows is refused, not ignored."""


class View(Struct, kw_only=True):
    """Base of what clients see."""


def shown(into: type[Shown], row: Struct, currency: str, **more: object) -> Shown:
    """Make a view of a row: fields by name, money as text from the column ending in ``_minor``.

    Args:
        into: The view; each field is in *more*, in *row*, or in *row* with ``_minor`` behind.
        row: As the store gives it.
        currency: Of the shop.
        more: Fields that need more than a copy.
    """
    values: dict[str, Any] = dict(more)
    for name in into.__struct_fields__:
        if name in values:
            continue
        if hasattr(row, f"{name}_minor"):
            minor = getattr(row, f"{name}_minor")
            values[name] = None if minor is None else to_text(minor, currency)
        else:
            values[name] = getattr(row, name)
    return into(**values)


def entered(body: Struct, currency: str, *, at: tuple[str | int, ...] = ()) -> dict[str, Any]:
    """Take the fields a client gave as columns: money becomes whole minor units.

    Args:
        body: As decoded; fields left out (UNSET) are left out.
        currency: Of the shop.
        at: Way to *body* from the root of the request, for the error.

    Raises:
        InvalidInputError: An amount has not the decimals of the currency.
    """
    hints = _hints(type(body))
    values: dict[str, Any] = {}
    for name in body.__struct_fields__:
        value = getattr(body, name)
        if value is UNSET:
            continue
        if is_money(hints[name]):
            values[f"{name}_minor"] = None if value is None else minor(value, currency, (*at, name))
        else:
            values[name] = value
    return values


def minor(text: str, currency: str, at: tuple[str | int, ...]) -> int:
    """Read an amount of the shop's currency; *at* is its place in the body.

    Raises:
        InvalidInputError: It is not such an amount.
    """
    try:
        return from_text(text, currency)
    except MoneyTextError as error:
        raise field_error(error.detail, at) from error


_HINTS: dict[type, Mapping[str, Any]] = {}


def _hints(kind: type) -> Mapping[str, Any]:
    if kind not in _HINTS:
        _HINTS[kind] = get_type_hints(kind, include_extras=True)
    return _HINTS[kind]


def is_money(hint: Any) -> bool:  # noqa: ANN401 - any annotation
    """Tell whether a field's type is money, perhaps null or left out."""
    if hint in (Money, Price):
        return True
    return any(is_money(part) for part in getattr(hint, "__args__", ()) if part is not str)
