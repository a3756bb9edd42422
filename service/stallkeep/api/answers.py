"""Answers with their headers: ETag for what has a version, Location for what is new."""

from __future__ import annotations

from typing import TypeVar

from litestar import Response

from stallkeep.api.versions import etag

Shown = TypeVar("Shown")


def versioned(view: Shown, version: int) -> Response[Shown]:
    """Answer with something that can be changed later by naming its version."""
    return Response(view, status_code=200, headers={"ETag": etag(version)})


def created(view: Shown, path: str, version: int | None = None) -> Response[Shown]:
    """Answer with something new that stands at *path*."""
    tag = {} if version is None else {"ETag": etag(version)}
    return Response(view, status_code=201, headers={"Location": path, **tag})
