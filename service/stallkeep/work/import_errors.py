"""Why a file is not taken in: it asks something first, or it is no such file."""

from __future__ import annotations

from uuid import UUID

from stallkeep.domain.errors import (
    ConflictError,
    NotFoundError,
    RejectedInputError,
    UnavailableError,
)


class ImportQuestionError(RejectedInputError):
    """The file can be read in two ways; ``question`` holds the parameter and its choices."""

    code = "import-question"
    title = "The file needs an answer first"


class ImportRefusedError(RejectedInputError):
    """The file is not one that can be taken in; ``reason_code`` says of which kind it is."""

    code = "import-refused"
    title = "The file cannot be taken in"


class ImporterNotFoundError(NotFoundError):
    """No importer has this name."""

    code = "importer-not-found"
    title = "No such importer"


class ImporterFailedError(RejectedInputError):
    """The importer itself broke on this file; nothing was taken."""

    code = "importer-failed"
    title = "The importer failed on this file"


class ImportNotFoundError(NotFoundError):
    """There is no such import."""

    code = "import-not-found"
    title = "No such import"


class ImportNotUndoableError(ConflictError):
    """The import cannot be undone as it stands."""

    code = "import-not-undoable"
    title = "The import cannot be undone"


class RowsAreMatchedError(ConflictError):
    """Rows of the import are matched; undoing it would release those matches."""

    code = "rows-are-matched"
    title = "Rows of this import are matched already"


class PlaceNeededError(RejectedInputError):
    """The rows belong to a channel or an event, and none was named."""

    code = "place-needed"
    title = "A channel or an event must be named"


class PlaceUnknownError(RejectedInputError):
    """The rows are said to belong to a channel or an event that the shop does not have."""

    code = "place-unknown"
    title = "No such channel or event"

    def __init__(self, parameter: str, place_id: UUID) -> None:
        detail = f"The shop has no {parameter} {place_id}"
        super().__init__(detail, errors=[{"detail": detail, "parameter": parameter}])


class PlacesDifferError(RejectedInputError):
    """The event named is on another channel than the channel named."""

    code = "places-differ"
    title = "Channel and event do not belong together"


class FileIsElsewhereError(ConflictError):
    """The very file was taken in at another place; ``other_import_id`` is its import there."""

    code = "file-is-elsewhere"
    title = "The file was taken in at another place"


class ImportInterruptedError(UnavailableError):
    """The import ended before its file was read; nothing was taken."""

    code = "interrupted"
    title = "The import was interrupted"


class TooManyWaitingError(UnavailableError):
    """More files wait to be taken in than the service keeps."""

    code = "too-many-imports-waiting"
    title = "Too many imports are waiting"
