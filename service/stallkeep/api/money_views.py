"""Views made from domain structs: the same fields, with every ``…_minor`` as a decimal string."""

from __future__ import annotations

import types
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, TypeAlias, Union, get_args, get_origin, get_type_hints

import msgspec

from stallkeep.domain.money import to_text

_END = "_minor"
_Field: TypeAlias = tuple[str, str, Callable[[Any, str], Any]]


@cache
def money_view(kind: type[msgspec.Struct]) -> type[msgspec.Struct]:
    """Make the view of a domain struct, nested structs included.

    A field ``net_minor: int`` becomes ``net: str``, or ``net_total`` where the struct has a
    ``net`` already; a tuple of amounts becomes a tuple of texts.
    """
    hints = get_type_hints(kind)
    fields = [
        (_name(name, kind), _text_type(hint) if name.endswith(_END) else _type(hint))
        for name, hint in ((name, hints[name]) for name in kind.__struct_fields__)
    ]
    summary = (kind.__doc__ or kind.__name__).strip().partition("\n")[0]
    return msgspec.defstruct(
        kind.__name__,
        fields,
        kw_only=True,
        frozen=True,
        gc=False,
        namespace={"__doc__": summary},
    )


def to_view(value: Any, currency: str) -> Any:  # noqa: ANN401 - any domain value
    """Turn a domain struct (or a sequence or mapping of them) into its view."""
    if isinstance(value, msgspec.Struct):
        shown, fields = _plan(type(value))
        return shown(
            **{view_name: turn(getattr(value, name), currency) for name, view_name, turn in fields}
        )
    if isinstance(value, tuple | list):
        return tuple([to_view(one, currency) for one in value])
    if isinstance(value, Mapping):
        return {key: to_view(one, currency) for key, one in value.items()}
    return value


@cache
def _plan(kind: type[msgspec.Struct]) -> tuple[type[msgspec.Struct], tuple[_Field, ...]]:
    """Look up a struct's view and, of every field, its name in the view and how it is turned."""
    names = kind.__struct_fields__
    fields = [
        (name, _name(name, kind), _texts if name.endswith(_END) else to_view) for name in names
    ]
    return money_view(kind), tuple(fields)


def _name(name: str, kind: type[msgspec.Struct]) -> str:
    short = name.removesuffix(_END)
    clashes = short != name and short in kind.__struct_fields__
    return f"{short}_total" if clashes else short


def _texts(value: Any, currency: str) -> Any:  # noqa: ANN401 - an amount, none, or several
    if value is None:
        return None
    if isinstance(value, tuple | list):
        return tuple(to_text(one, currency) for one in value)
    return to_text(value, currency)


def _text_type(hint: Any) -> Any:  # noqa: ANN401 - an annotation
    if hint is int:
        return str
    return _rebuilt(hint, _text_type)


def _type(hint: Any) -> Any:  # noqa: ANN401 - an annotation
    if isinstance(hint, type) and issubclass(hint, msgspec.Struct):
        return money_view(hint)
    return _rebuilt(hint, _type)


def _rebuilt(hint: Any, change: Any) -> Any:  # noqa: ANN401 - an annotation
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        return Union[tuple(change(part) for part in get_args(hint))]  # noqa: UP007 - made at run time
    if origin is tuple:
        return tuple[tuple(part if part is ... else change(part) for part in get_args(hint))]  # type: ignore[misc]
    if isinstance(origin, type) and issubclass(origin, Mapping):
        key, value = get_args(hint)
        return types.GenericAlias(dict, (key, change(value)))
    return hint
