"""Files: take one in, look at one first, see what became of it, undo it."""

from __future__ import annotations

import datetime as dt
import tempfile
from contextlib import ExitStack
from typing import Annotated, Any, BinaryIO, Final, cast
from uuid import UUID

import msgspec
from litestar import Request, Response, delete, get, post
from litestar.di import NamedDependency
from litestar.exceptions import HTTPException, ValidationException
from litestar.params import FromPath, JSONBody, QueryParameter
from msgspec import Meta

from stallkeep.api.auth import Caller
from stallkeep.api.pages import Cursor, Limit, Page, page, read_cursor
from stallkeep.api.prefer import APPLIED, LATER, Prefer, read_prefer
from stallkeep.api.schemas import Body, Moment, View
from stallkeep.domain.errors import UnavailableError
from stallkeep.store import imports as store
from stallkeep.work.choose_importer import KnownImporter, known_importers
from stallkeep.work.import_file import ImportOrder, Upload, import_file
from stallkeep.work.import_later import import_later
from stallkeep.work.preview_import import Preview, preview_import
from stallkeep.work.read_import import list_imports as known_imports
from stallkeep.work.read_import import read_import
from stallkeep.work.retry_reject import dismiss_reject, retry_reject
from stallkeep.work.undo_import import undo_import

MAXIMUM_UPLOAD_BYTES: Final = 2_000_000_000
IN_MEMORY_BYTES: Final = 1_000_000
TAGS: Final = ["imports"]

ImporterName = Annotated[
    str | None,
    QueryParameter(max_length=100, description="Which importer; left out, the file is recognised"),
]
ChannelId = Annotated[UUID | None, QueryParameter(description="Channel the rows belong to")]
EventId = Annotated[UUID | None, QueryParameter(description="Event the rows belong to")]
FileName = Annotated[
    str, QueryParameter(max_length=255, description="Name of the file, for the report")
]
Cell = Annotated[str, Meta(max_length=10_000, pattern=r"^[^\x00]*$")]
Columns = Annotated[
    str | None,
    QueryParameter(
        max_length=4000,
        description='JSON object: field to header, such as {"amount":"Betrag"}; "#3" is column 3',
    ),
]
Answers = Annotated[
    str | None,
    QueryParameter(
        max_length=2000,
        description='JSON object: further answers, such as {"date_order":"dmy"}',
    ),
]


class NotKeptError(UnavailableError):
    """There is no room for a file while it is taken in."""

    code = "no-room-for-file"
    title = "The file cannot be kept"


class Import(View):
    """One file and what became of it: rows_read = taken + known + rejected + skipped."""

    id: UUID
    importer: str
    channel_id: UUID | None
    event_id: UUID | None
    file_name: str
    file_bytes: int
    state: str
    rows_read: int
    taken: int
    changed: int
    known: int
    rejected: int
    skipped: int
    skips: dict[str, int]
    bytes_read: int
    layout: dict[str, Any] | None
    notices: list[dict[str, Any]]
    problem: dict[str, Any] | None
    started_at: Moment
    finished_at: Moment | None


class Reject(View):
    """A row that could not be taken, as it stood, and what to do about it."""

    record: int
    line: int
    code: str
    column: str | None
    value: str | None
    reason: str
    advice: str
    cells: list[str]
    state: str


def view(row: store.Import) -> Import:
    """Show an import."""
    return Import(**{name: getattr(row, name) for name in Import.__struct_fields__})


def _reject(row: store.StoredReject) -> Reject:
    names = (name for name in Reject.__struct_fields__ if name != "column")
    return Reject(column=row.column_name, **{name: getattr(row, name) for name in names})


@post(
    "/v1/imports",
    operation_id="takeFileIn",
    tags=TAGS,
    request_max_body_size=MAXIMUM_UPLOAD_BYTES,
    helper=True,
    opt=LATER,
)
async def post_import(
    request: Request[Any, Any, Any],
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
        upload = Upload(file, file_name, await _receive(request, file))
        if wait_seconds is None:
            done = await import_file(caller.pool, caller.shop, upload, order)
        else:
            held.pop_all()  # the import closes it
            done = await import_later(caller.pool, caller.shop, upload, order, wait_seconds)
    headers = {"Location": f"/v1/imports/{done.id}"}
    if done.state != "running":
        return Response(view(done), headers=headers)
    return Response(view(done), status_code=202, headers={**headers, **APPLIED})


@post(
    "/v1/imports/preview",
    operation_id="previewFile",
    tags=TAGS,
    status_code=200,
    request_max_body_size=MAXIMUM_UPLOAD_BYTES,
    helper=True,
)
async def post_preview(
    request: Request[Any, Any, Any],
    caller: NamedDependency[Caller],
    importer: ImporterName = None,
    file_name: FileName = "upload",
    columns: Columns = None,
    answers: Answers = None,
) -> Preview:
    """Show how a file would be read, without taking anything in: send the file as the body."""
    with tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES) as spool:
        file = cast("BinaryIO", spool)
        size = await _receive(request, file)
        order = ImportOrder(importer=importer, answers=read_answers(columns, answers))
        return await preview_import(caller.pool, caller.shop, Upload(file, file_name, size), order)


async def _receive(request: Request[Any, Any, Any], file: BinaryIO) -> int:
    """Put the body into a file; gives its size.

    Raises:
        HTTPException: It is a form, or too large.
        NotKeptError: There is no room for it.
    """
    if request.headers.get("content-type", "").lower().startswith("multipart/"):
        raise HTTPException(
            status_code=415,
            detail="Send the file itself as the body, not a form with the file in it: with curl "
            "--data-binary @FILE, not -F",
        )
    try:
        return await _spool(request, file)
    except OSError as error:
        raise NotKeptError(
            f"The file cannot be kept while it is taken in ({error.strerror}); nothing was taken. "
            "Make room where the service keeps temporary files, then send it again"
        ) from error


async def _spool(request: Request[Any, Any, Any], file: BinaryIO) -> int:
    limit = request.app.state.settings.max_upload_bytes
    size = 0
    async for chunk in request.stream():
        size += len(chunk)
        if size > limit:
            raise HTTPException(
                status_code=413, detail=f"The file is larger than the {limit} bytes allowed here"
            )
        file.write(chunk)
    file.seek(0)
    return size


def read_answers(columns: str | None, answers: str | None) -> dict[str, Any]:
    """Read the two JSON parameters of an import.

    Raises:
        ValidationException: One is no JSON object of the right kind.
    """
    given: dict[str, Any] = {}
    if answers is not None:
        given |= _json("answers", answers, dict[str, Any])
    if columns is not None:
        given["columns"] = _json("columns", columns, dict[str, str])
    return given


def _json(name: str, text: str, kind: Any) -> dict[str, Any]:  # noqa: ANN401 - a type
    try:
        found: dict[str, Any] = msgspec.json.decode(text, type=kind)
    except msgspec.DecodeError as error:
        raise ValidationException(
            extra=[{"key": name, "message": f"Expected a JSON object: {error}"}]
        ) from error
    if "\\u0000" in msgspec.json.encode(found).decode():
        raise ValidationException(
            extra=[{"key": name, "message": "Expected text without NUL characters"}]
        )
    return found


@get("/v1/imports", operation_id="listImports", tags=TAGS, helper=True)
async def list_imports(
    request: Request[Any, Any, Any],
    caller: NamedDependency[Caller],
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Response[Page[Import]]:
    """List imports, newest first."""
    after = read_cursor(cursor, tuple[dt.datetime, UUID])
    rows = await known_imports(caller.pool, caller.shop.shop_id, limit, after)
    return page(request, rows, limit, view, lambda row: (row.started_at, row.id))


@get("/v1/imports/{import_id:uuid}", operation_id="readImport", tags=TAGS, helper=True)
async def get_import(import_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Import:
    """Read one import; while it runs, how far it has come."""
    return view(await read_import(caller.pool, caller.shop.shop_id, import_id))


@get(
    "/v1/imports/{import_id:uuid}/rejects",
    operation_id="listRejects",
    tags=TAGS,
    helper=True,
)
async def list_rejects(
    request: Request[Any, Any, Any],
    import_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Response[Page[Reject]]:
    """List the rows an import could not take, in file order, each with its reason."""
    after = read_cursor(cursor, tuple[int])
    await read_import(caller.pool, caller.shop.shop_id, import_id)
    async with caller.read_scope() as con:
        last = 0 if after is None else after[0]
        rows = await store.list_rejects(con, caller.shop.shop_id, import_id, limit, last)
    return page(request, rows, limit, _reject, lambda row: (row.record,))


class CorrectedRow(Body):
    """The whole row, corrected, cell by cell in the order of the table's columns."""

    cells: Annotated[list[Cell], Meta(min_length=1, max_length=500)]


@post(
    "/v1/imports/{import_id:uuid}/rejects/{record:int}/corrected",
    operation_id="retryReject",
    tags=TAGS,
    helper=True,
)
async def post_corrected(
    import_id: FromPath[UUID],
    record: FromPath[int],
    data: JSONBody[CorrectedRow],
    caller: NamedDependency[Caller],
) -> Response[Import]:
    """Take a rejected row in after all, corrected, without the whole file."""
    done = await retry_reject(caller.pool, caller.shop, import_id, record, data.cells, caller.name)
    return Response(view(done), headers={"Location": f"/v1/imports/{done.id}"})


@delete(
    "/v1/imports/{import_id:uuid}/rejects/{record:int}",
    operation_id="dismissReject",
    tags=TAGS,
    helper=True,
)
async def delete_reject(
    import_id: FromPath[UUID], record: FromPath[int], caller: NamedDependency[Caller]
) -> None:
    """Say that a rejected row is not wanted; it stays readable."""
    await dismiss_reject(caller.pool, caller.shop, import_id, record)


@delete("/v1/imports/{import_id:uuid}", operation_id="undoImport", tags=TAGS, status_code=200)
async def delete_import(
    import_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    release: Annotated[
        bool, QueryParameter(description="Also release matches of its rows")
    ] = False,
) -> Import:
    """Undo an import as a whole: what it brought goes, what it changed is as before."""
    done = await undo_import(caller.pool, caller.shop, import_id, release=release)
    return view(done)


@get("/v1/importers", operation_id="listImporters", tags=TAGS, helper=True)
async def list_importers() -> list[KnownImporter]:
    """List the importers installed here, and those that failed to load."""
    return known_importers()


ROUTES = (
    post_import,
    post_preview,
    list_imports,
    get_import,
    list_rejects,
    post_corrected,
    delete_reject,
    delete_import,
    list_importers,
)
