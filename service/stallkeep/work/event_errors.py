"""Errors about events."""

from __future__ import annotations

from stallkeep.domain.errors import NotFoundError


class EventNotFoundError(NotFoundError):
    """There is no such event."""

    code = "event-not-found"
    title = "No such event"
