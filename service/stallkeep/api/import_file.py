"""Take a file in, or look first at how it would be read."""

from __future__ import annotations

import tempfile
from contextlib import ExitStack
from typing import Annotated, BinaryIO, cast
from uuid import UUID

from litestar import Response, post
from litestar.di import NamedDependency
from litestar.params import QueryParameter

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.import_answers import Answers, Columns, read_answers
from stallkeep.api.imports import TAGS, Import, import_view
from stallkeep.api.prefer import APPLIED, LATER, Prefer, read_prefer
from stallkeep.api.strictness import StrictRequest
from stallkeep.api.uploads import IN_MEMORY_BYTES, MAXIMUM_UPLOAD_BYTES, receive
from stallkeep.work.import_file import ImportOrder, Upload, import_file
from stallkeep.work.import_later import import_later
from stallkeep.work.preview_import import Preview, preview_import

ImporterName = Annotated[
    str | None,
    QueryParameter(max_length=100, description="Which importer; left out, the file is recognised"),
]
ChannelId = Annotated[UUID | None, QueryParameter(description="Channel the rows belong to")]
EventId = Annotated[UUID | None, QueryParameter(description="Event the rows belong to")]
FileName = Annotated[
    str, QueryParameter(max_length=255, description="Name of the file, for the report")
]


@post(
    "/v1/imports",
    operation_id="takeFileIn",
    tags=TAGS,
    request_max_body_size=MAXIMUM_UPLOAD_BYTES,
    opt=FOR_HELPERS | LATER,
)
async def post_import(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    importer: ImporterName = None,
    channel: ChannelId = None,
    event: EventId = None,
    file_name: FileName = "upload",
    columns: Columns = None,
    answers: Answers = None,
    prefer: Prefer = None,
) -> Response[Import]:
    """Take an export in: send the file itself as the body.

    All of it or nothing; what was taken before is known and not taken twice. Where the file can
    be read in two ways the answer is a question: send the file again with its parameter. A large
    file need not be waited for: with `Prefer: respond-async` it is accepted at once, whatever else
    is running, and the import is shown as it waits and runs. If the service ends before that, the
    import is `failed` with the code `interrupted`, nothing of it is taken: send the file again.
    """
    order = ImportOrder(
        importer=importer,
        channel_id=channel,
        event_id=event,
        answers=read_answers(columns, answers),
        by=caller.name,
    )
    wait_seconds = read_prefer(prefer)
    with ExitStack() as held:
        spool = held.enter_context(tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES))
        file = cast("BinaryIO", spool)
        upload = Upload(file, file_name, await receive(request, file))
        if wait_seconds is None:
            done = await import_file(caller.pool, caller.shop, upload, order)
        else:
            held.pop_all()  # the import closes it
            done = await import_later(caller.pool, caller.shop, upload, order, wait_seconds)
    headers = {"Location": f"/v1/imports/{done.id}"}
    if done.state != "running":
        return Response(import_view(done), headers=headers)
    return Response(import_view(done), status_code=202, headers={**headers, **APPLIED})


@post(
    "/v1/imports/preview",
    operation_id="previewFile",
    tags=TAGS,
    status_code=200,
    request_max_body_size=MAXIMUM_UPLOAD_BYTES,
    opt=FOR_HELPERS,
)
async def post_preview(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    importer: ImporterName = None,
    channel: ChannelId = None,
    event: EventId = None,
    file_name: FileName = "upload",
    columns: Columns = None,
    answers: Answers = None,
) -> Preview:
    """Show how a file would be read, without taking anything in: send the file as the body.

    It takes what taking it in takes. A channel or event need not be named; one that is named is
    checked, so that a file which was taken in for another one is known before.
    """
    with tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES) as spool:
        file = cast("BinaryIO", spool)
        size = await receive(request, file)
        order = ImportOrder(
            importer=importer,
            channel_id=channel,
            event_id=event,
            answers=read_answers(columns, answers),
        )
        return await preview_import(caller.pool, caller.shop, Upload(file, file_name, size), order)


ROUTES = (post_import, post_preview)
