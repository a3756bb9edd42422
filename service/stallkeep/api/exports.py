"""Files to take away: each table, and everything as one package."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from litestar import Response, get
from litestar.di import NamedDependency
from litestar.params import PathParameter

from stallkeep.api.auth import Caller
from stallkeep.work.export_shop import FILES, export_file

_ABOUT = f"One of {', '.join(FILES)}"


@get(
    "/v1/exports/{file:str}",
    operation_id="exportFile",
    tags=["exports"],
    opt={"media_types": ("text/csv", "application/zip")},
)
async def read_export(
    file: Annotated[str, PathParameter(description=_ABOUT)], caller: NamedDependency[Caller]
) -> Response[bytes]:
    """Take a table away as CSV, or everything the shop has as a frictionless data package.

    No cell runs as a formula in a spreadsheet. Tokens are left out.
    """
    async with caller.read_scope() as con:
        found = await export_file(con, caller.shop, file, dt.datetime.now(dt.UTC))
    headers = {"Content-Disposition": f'attachment; filename="{found.name}"'}
    return Response(found.content, media_type=found.media_type, headers=headers)


ROUTES = (read_export,)
