"""Tell a table from the other kinds of file that come under its name."""

from __future__ import annotations

import io
import zlib
from gzip import BadGzipFile, GzipFile
from typing import BinaryIO

from stallkeep_importers.contract import RefusalError

MAX_UNPACKED_BYTES = 2 << 30
_HEAD_BYTES = 4096

_SIGNATURES: tuple[tuple[bytes, str], ...] = (
    (b"PK\x03\x04", "a zip archive"),
    (b"PK\x05\x06", "a zip archive"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old spreadsheet or text document"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"RIFF", "a sound, film or picture"),
    (b"II*\x00", "a picture"),
    (b"MM\x00*", "a picture"),
    (b"{\\rtf", "a text document"),
    (b"BZh", "a packed file"),
    (b"\xfd7zXZ\x00", "a packed file"),
    (b"7z\xbc\xaf\x27\x1c", "a packed file"),
    (b"Rar!", "a packed file"),
    (b"\x28\xb5\x2f\xfd", "a packed file"),
    (b"SQLite format 3\x00", "a database"),
    (b"PAR1", "a column store"),
    (b"\x7fELF", "a program"),
)
_OPENINGS: tuple[tuple[bytes, str], ...] = (
    (b"<!doctype html", "a web page"),
    (b"<html", "a web page"),
    (b"<head", "a web page"),
    (b"<table", "a web page"),
    (b"<?xml", "an XML document"),
    (b"ofxheader", "a bank statement in OFX"),
    (b"<ofx", "a bank statement in OFX"),
    (b"mime-version:", "an e-mail"),
    (b"from: ", "an e-mail"),
    (b"received: ", "an e-mail"),
    (b"return-path:", "an e-mail"),
)
_ZIP_CONTENTS: tuple[tuple[bytes, str], ...] = (
    (b"xl/", "a spreadsheet (xlsx)"),
    (b"opendocument.spreadsheet", "a spreadsheet (ods)"),
    (b"word/", "a text document (docx)"),
)


def other_file_type(head: bytes) -> str | None:
    """Name the kind of file *head* begins, or None where it may be a table of text."""
    for signature, name in _SIGNATURES:
        if head.startswith(signature):
            return _zip_content(head) or name if signature.startswith(b"PK") else name
    opening = head.removeprefix(b"\xef\xbb\xbf").lstrip()[:200].lower()
    for start, name in _OPENINGS:
        if opening.startswith(start):
            return name
    if opening[:1] in (b"{", b"[") and opening[1:].lstrip()[:1] in (b'"', b"{", b"]", b"}"):
        return "a JSON document"
    return None


def refuse_empty(head: bytes) -> None:
    """Raise RefusalError when *head* holds nothing."""
    if not head.strip(b"\xef\xbb\xbf\xff\xfe \t\r\n\x00"):
        raise RefusalError(
            "empty-file", "The file holds nothing.", "Export it again and look into it first."
        )


def refuse_other_types(head: bytes) -> None:
    """Raise RefusalError when *head* is empty or begins another kind of file than a table."""
    refuse_empty(head)
    name = other_file_type(head)
    if name:
        raise RefusalError(
            "other-file-type",
            f"This is {name}, not a table of text, whatever its name says.",
            "Export the data as CSV (comma separated text) and send that file.",
            {"type": name},
        )


def plain_stream(stream: BinaryIO, max_bytes: int = MAX_UNPACKED_BYTES) -> BinaryIO:
    """Look through gzip: hand back a seekable stream of the bytes inside, at position 0.

    Args:
        stream: Seekable, at position 0.
        max_bytes: What unpacking may give at most.

    Raises:
        RefusalError: On reading, when the packed data are damaged, cut short or too large.
    """
    if head_of(stream, 2) != b"\x1f\x8b":
        return stream
    return io.BufferedReader(_Unpacked(stream, max_bytes), 1 << 16)


def head_of(stream: BinaryIO, size: int = _HEAD_BYTES) -> bytes:
    """Give the first *size* bytes and leave the stream at position 0."""
    head = b""
    while len(head) < size and (piece := stream.read(size - len(head))):
        head += piece
    stream.seek(0)
    return head


def unpacked_sample(sample: bytes) -> bytes:
    """Unpack as much as there is of a sample that begins a gzip file; others as they are."""
    if not sample.startswith(b"\x1f\x8b"):
        return sample
    try:
        return zlib.decompressobj(wbits=31).decompress(sample, 1 << 16)
    except zlib.error:
        return b""


def _zip_content(head: bytes) -> str | None:
    return next((name for mark, name in _ZIP_CONTENTS if mark in head), None)


class _Unpacked(io.RawIOBase):
    """A gzip file unpacked as it is read, within a bound."""

    def __init__(self, stream: BinaryIO, max_bytes: int) -> None:
        self._gzip = GzipFile(fileobj=stream, mode="rb")
        self._max_bytes = max_bytes

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        return self._gzip.seek(offset, whence)

    def tell(self) -> int:
        return self._gzip.tell()

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        try:
            piece = self._gzip.read1(len(buffer))
        except EOFError as error:
            raise RefusalError(
                "cut-short", "The packed file ends in the middle.", "Fetch it again, whole."
            ) from error
        except (BadGzipFile, zlib.error) as error:
            raise RefusalError(
                "damaged-file", "The packed file is damaged.", "Fetch it again."
            ) from error
        if self._gzip.tell() > self._max_bytes:
            raise RefusalError(
                "unpacked-too-large",
                f"Unpacked, the file is larger than {self._max_bytes >> 20} MiB.",
                "Export a shorter period.",
            )
        buffer[: len(piece)] = piece
        return len(piece)
