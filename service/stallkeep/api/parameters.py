"""The parameters of a handler as they are called on the wire."""

from __future__ import annotations

from functools import cache
from typing import Any

from litestar.enums import ParamType
from litestar.handlers import BaseRouteHandler
from litestar.params import ParameterKwarg


@cache
def wire_names(handler: BaseRouteHandler, *places: ParamType) -> dict[str, str]:
    """Map the names of parameters in Python to those on the wire.

    Args:
        handler: The handler; the dependencies it uses are looked at too.
        places: Query, header or path; all when left out.
    """
    given = handler.resolve_dependencies()
    own = handler.parsed_fn_signature.parameters
    fields: list[tuple[str, Any]] = [*own.items()]
    for name in own:
        if name in given:
            fields += given[name].parsed_fn_signature.parameters.items()
    return {
        name: mark.name or name
        for name, field in fields
        if name not in given
        and isinstance(mark := field.kwarg_definition, ParameterKwarg)
        and (not places or mark.param_type in places)
    }
