"""What is no HTTP is refused before the service sees it; the answer is a problem document too."""

from __future__ import annotations

from http import HTTPStatus

import msgspec
from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from stallkeep.api.problems import MEDIA_TYPE, Problem

NO_HTTP = Problem(
    type="about:blank",
    title=HTTPStatus.BAD_REQUEST.phrase,
    status=HTTPStatus.BAD_REQUEST,
    detail="This is no HTTP/1.1, or its address or headers are too long or hold what they may not",
)


class HttpProtocol(HttpToolsProtocol):
    """The server's own, but for its refusals."""

    def send_400_response(self, msg: str) -> None:
        """Refuse what could not be parsed, and hang up."""
        body = msgspec.json.encode(NO_HTTP)
        own = [
            (b"content-type", MEDIA_TYPE.encode()),
            (b"content-length", str(len(body)).encode()),
            (b"connection", b"close"),
        ]
        lines = [b"HTTP/1.1 400 Bad Request"]
        lines += [b": ".join(pair) for pair in (*self.server_state.default_headers, *own)]
        self.transport.write(b"\r\n".join([*lines, b"", body]))
        self.transport.close()
