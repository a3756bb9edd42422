"""Bytes → text: which codec a file was written in, settled from all of its bytes.

The order: a byte-order mark, the pattern of NULs (UTF-16 without a mark), strict UTF-8, then the
code page of a language whose column words the text then holds, the shop's languages first. What
is left over is ranked by charset-normalizer.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterable, Iterator
from typing import BinaryIO

import charset_normalizer
import msgspec

from stallkeep_importers.contract import Options, QuestionError, RefusalError
from stallkeep_importers.words import heading_words, languages, plain

_CHUNK_BYTES = 1 << 20
_SAMPLE_BYTES = 1 << 16
_MARKS: tuple[tuple[bytes, str], ...] = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_BAD_BYTE = re.compile(r"[\udc80-\udcff]")
_BEYOND_ASCII = re.compile(r"[^\x00-\x7f\udc80-\udcff]+")
_CELL = re.compile(r"[^,;\t|\"\r\n]+")


# code pages of languages there is no word file for; source: common practice, no source
_OTHER_PAGES = {
    **dict.fromkeys(("ru", "uk", "bg", "sr", "be", "mk"), "cp1251"),
    **dict.fromkeys(("hu", "ro", "sk", "hr", "sl", "bs"), "cp1250"),
    **dict.fromkeys(("et", "lv", "lt"), "cp1257"),
    **dict.fromkeys(("nb", "nn", "no", "fi", "is", "ca", "ga"), "cp1252"),
    "el": "cp1253",
    "tr": "cp1254",
    "he": "cp1255",
    "ar": "cp1256",
    "vi": "cp1258",
    "ko": "cp949",
    "zh": "gb18030",
}


class Survey(msgspec.Struct, frozen=True):
    """What one pass over all bytes says.

    Attributes:
        codec: Name for ``codecs``.
        size: Bytes in all.
        lines: Line ends counted (approximate in UTF-16).
        bad_bytes: Bytes that are no text in *codec*; their rows are rejected.
        nuls: NUL characters within the text.
        ends_in_newline: Whether the last byte ends a line.
        ends_in_nuls: Whether the file is padded with NULs, the trace of an interrupted write.
        is_wide: Whether signs take two or four bytes; then NULs are not counted.
        notice: What was assumed, for the seller; "" where nothing was.
    """

    codec: str
    size: int
    lines: int
    bad_bytes: int = 0
    nuls: int = 0
    ends_in_newline: bool = True
    ends_in_nuls: bool = False
    is_wide: bool = False
    notice: str = ""


def survey(stream: BinaryIO, options: Options) -> Survey:
    """Read all bytes once, decide the codec, leave the stream at position 0.

    Raises:
        QuestionError: No codec reads the bytes, or the named one does not.
        RefusalError: The codec named in the options does not exist.
    """
    size = feeds = returns = nuls = 0
    head = tail = b""
    for chunk in _chunks(stream):
        if len(head) < _SAMPLE_BYTES:
            head = (head + chunk)[:_SAMPLE_BYTES]
        tail = (tail + chunk)[-64:]
        size += len(chunk)
        feeds += chunk.count(b"\n")
        returns += chunk.count(b"\r")
        nuls += chunk.count(b"\0")
    codec, bad_bytes, notice = _codec(stream, head, options)
    wide = codec.startswith(("utf-16", "utf-32"))
    return Survey(
        codec=codec,
        size=size,
        lines=feeds or returns,
        bad_bytes=bad_bytes,
        nuls=0 if wide else nuls,
        ends_in_newline=tail.rstrip(b"\0").endswith((b"\n", b"\r")),
        ends_in_nuls=not wide and tail.endswith(b"\0\0"),
        is_wide=wide,
        notice=notice,
    )


def sample_codec(sample: bytes, options: Options) -> str:
    """Guess the codec of a file from its beginning; never raises."""
    if options.encoding:
        return options.encoding
    named = _marked(sample) or _wide_without_mark(sample)
    if named:
        return named
    if _bad_utf8(iter([sample[: sample.rfind(b"\n") + 1] or sample]))[0] == 0:
        return "utf-8"
    return next(iter(_fitting_pages([sample], sample, options)), "latin-1")


def _codec(stream: BinaryIO, head: bytes, options: Options) -> tuple[str, int, str]:
    """Give codec, count of bad bytes and notice."""
    if options.encoding:
        return _named_codec(stream, options.encoding)
    named = _marked(head) or _wide_without_mark(head)
    if named == "utf-8-sig" or not named:
        bad, good = _bad_utf8(_chunks(stream))
        if bad <= good or named:
            # text in a code page hardly ever holds what is right in UTF-8
            return named or "utf-8", bad, _damaged(bad)
        return _code_page(stream, head, options)
    if not _decodes(named, _chunks(stream)):
        raise RefusalError(
            "cut-short", f"The file begins as {named} and does not go on so.", "Fetch it again."
        )
    return named, 0, ""


def _damaged(bad_bytes: int) -> str:
    if not bad_bytes:
        return ""
    return f"{bad_bytes} bytes are no text in UTF-8; the rows they are in are not taken."


def _named_codec(stream: BinaryIO, name: str) -> tuple[str, int, str]:
    codec = codecs.lookup(name).name
    if codec == "utf-8":
        return "utf-8-sig", _bad_utf8(_chunks(stream))[0], ""
    if not _decodes(codec, _chunks(stream)):
        raise RefusalError(
            "encoding-does-not-fit",
            f"The bytes of the file are no text in {name}.",
            "Name another encoding, or none.",
        )
    return codec, 0, ""


def _code_page(stream: BinaryIO, head: bytes, options: Options) -> tuple[str, int, str]:
    for page in _fitting_pages([head], head, options):
        if _decodes(page, _chunks(stream)):
            return page, 0, f"The text is no UTF-8; it was read as {page}."
    raise QuestionError(
        "encoding-undecided",
        "The bytes of the file are no text in any encoding we know.",
        "Name the encoding it was written in.",
        parameter="encoding",
    )


def _fitting_pages(pieces: Iterable[bytes], sample: bytes, options: Options) -> list[str]:
    """Rank the code pages that can read *sample*: those that give known headings come first."""
    pieces = list(pieces)
    pages = [page for page in _pages(options) if _decodes(page, iter(pieces), final=False)]
    ranked = sorted(pages, key=lambda page: -_known_words(sample, page))
    if ranked:
        return ranked
    return [match.encoding for match in charset_normalizer.from_bytes(sample)]


def _pages(options: Options) -> list[str]:
    """All code pages, those of the shop's languages first."""
    known = languages()
    own = [
        page
        for code in options.languages
        for page in (known[code].code_pages if code in known else (_OTHER_PAGES.get(code, ""),))
        if page
    ]
    rest = [page for language in known.values() for page in language.code_pages]
    return list(dict.fromkeys([*own, *rest]))


def _known_words(sample: bytes, page: str) -> int:
    text = sample[:8192].decode(page, "replace")
    words = heading_words()
    cells = {cell for cell in _CELL.findall(text) if not cell.isascii()}
    return sum(plain(cell) in words for cell in cells)


def _marked(head: bytes) -> str | None:
    return next((codec for mark, codec in _MARKS if head.startswith(mark)), None)


def _wide_without_mark(head: bytes) -> str | None:
    """Know UTF-16 by its NULs: every second byte of Western text."""
    even, odd = head[0:4096:2], head[1:4096:2]
    if not odd:
        return None
    if odd.count(0) > len(odd) * 0.7 and even.count(0) < len(even) * 0.1:
        return "utf-16-le"
    if even.count(0) > len(even) * 0.7 and odd.count(0) < len(odd) * 0.1:
        return "utf-16-be"
    return None


def _bad_utf8(chunks: Iterator[bytes]) -> tuple[int, int]:
    """Count bytes that are no UTF-8, and runs of text beyond ASCII that are."""
    decoder = codecs.getincrementaldecoder("utf-8")("surrogateescape")
    bad = good = 0
    carried = False
    for chunk in chunks:
        if chunk.isascii() and not carried:
            continue
        text = decoder.decode(chunk)
        carried = bool(decoder.getstate()[0])
        bad += len(_BAD_BYTE.findall(text))
        good += len(_BEYOND_ASCII.findall(text))
    return bad + len(_BAD_BYTE.findall(decoder.decode(b"", True))), good


def _decodes(codec: str, chunks: Iterator[bytes], *, final: bool = True) -> bool:
    decoder = codecs.getincrementaldecoder(codec)("strict")
    try:
        for chunk in chunks:
            decoder.decode(chunk)
        decoder.decode(b"", final)
    except UnicodeError:
        return False
    return True


def _chunks(stream: BinaryIO) -> Iterator[bytes]:
    stream.seek(0)
    while chunk := stream.read(_CHUNK_BYTES):
        yield chunk
    stream.seek(0)
