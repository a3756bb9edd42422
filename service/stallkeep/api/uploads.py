"""A file sent as the body of a request, put where an importer can read it."""

from __future__ import annotations

from typing import Any, BinaryIO, Final

from litestar import Request
from litestar.exceptions import HTTPException

from stallkeep.domain.errors import UnavailableError

MAXIMUM_UPLOAD_BYTES: Final = 2_000_000_000
IN_MEMORY_BYTES: Final = 1_000_000


class NotKeptError(UnavailableError):
    """There is no room for a file while it is taken in."""

    code = "no-room-for-file"
    title = "The file cannot be kept"


async def receive(request: Request[Any, Any, Any], file: BinaryIO) -> int:
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
