"""Bytes of XML → the entries in it, one by one, and nothing that XML can be abused for.

Document types, entities of any kind and deep nesting are refused; memory is bound by one entry.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from typing import BinaryIO
from xml.parsers import expat

import msgspec

from stallkeep_importers.contract import RefusalError

_CHUNK_BYTES = 1 << 16
_DEEPEST = 60
_MOST_TEXT = 1 << 16
_MOST_NODES = 100_000


class Node(msgspec.Struct):
    """One element: local name, attributes, text, children."""

    name: str
    attributes: dict[str, str]
    line: int
    text: str = ""
    children: list[Node] = []

    def find(self, path: str) -> Node | None:
        """Give the first node on a path of local names such as ``BookgDt/Dt``."""
        return next(self.all(path), None)

    def all(self, path: str) -> Iterator[Node]:
        """Yield every node on a path of local names, in file order."""
        head, _, rest = path.partition("/")
        for child in self.children:
            if child.name == head:
                yield from child.all(rest) if rest else (child,)

    def text_at(self, path: str) -> str:
        """Give the trimmed text at a path, "" where there is none."""
        found = self.find(path)
        return found.text.strip() if found else ""


def entries(stream: BinaryIO, names: frozenset[str], root_holds: str) -> Iterator[Node]:
    """Yield each element called one of *names* as soon as it has ended.

    Args:
        stream: Bytes from position 0.
        names: Local names; an entry inside another entry is part of it.
        root_holds: Local name of the element right below the root.

    Raises:
        RefusalError: It is no such document, is damaged or cut short, or holds what is not
            allowed here.
    """
    reader = _Reader(names, root_holds)
    while chunk := stream.read(_CHUNK_BYTES):
        reader.feed(chunk)
        while reader.done:
            yield reader.done.popleft()
    reader.close()
    yield from reader.done


class _Reader:
    def __init__(self, names: frozenset[str], root_holds: str) -> None:
        self.done: deque[Node] = deque()
        self._names = names
        self._root_holds = root_holds
        self._open: list[Node] = []
        self._depth = 0
        self._nodes = 0
        self._parser = expat.ParserCreate(namespace_separator=" ")
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._text
        self._parser.StartDoctypeDeclHandler = _forbidden
        self._parser.EntityDeclHandler = _forbidden
        self._parser.ExternalEntityRefHandler = _forbidden_reference

    def feed(self, chunk: bytes) -> None:
        self._parse(chunk, is_final=False)

    def close(self) -> None:
        self._parse(b"", is_final=True)

    def _parse(self, chunk: bytes, *, is_final: bool) -> None:
        try:
            self._parser.Parse(chunk, is_final)
        except (LookupError, ValueError) as error:
            raise RefusalError(
                "damaged-file",
                f"The file names an encoding that it cannot be in: {error}"[:200],
                "Fetch the file again.",
            ) from error
        except expat.ExpatError as error:
            if is_final:
                raise RefusalError(
                    "cut-short",
                    f"The file ends in the middle, in line {error.lineno}.",
                    "Fetch the file again, whole.",
                    {"line": error.lineno},
                ) from error
            raise RefusalError(
                "damaged-file",
                f"The file is damaged in line {error.lineno}.",
                "Fetch the file again.",
                {"line": error.lineno},
            ) from error

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        local = name.rpartition(" ")[2]
        self._depth += 1
        if self._depth == 2 and local != self._root_holds:  # noqa: PLR2004 - below the root
            raise RefusalError(
                "other-file-type",
                f"This is an XML document of another kind ({local}).",
                "Export the statement as camt.053.",
                {"type": local},
            )
        if self._depth > _DEEPEST:
            raise _too_much("nested too deep")
        if not self._open and local not in self._names:
            return
        self._nodes += 1
        if self._nodes > _MOST_NODES:
            raise _too_much("one entry has too many parts")
        node = Node(local, dict(attributes), self._parser.CurrentLineNumber, "", [])
        if self._open:
            self._open[-1].children.append(node)
        self._open.append(node)

    def _end(self, name: str) -> None:
        self._depth -= 1
        if not self._open:
            return
        node = self._open.pop()
        if not self._open:
            self._nodes = 0
            self.done.append(node)

    def _text(self, text: str) -> None:
        if self._open:
            node = self._open[-1]
            if len(node.text) + len(text) > _MOST_TEXT:
                raise _too_much("a text is too long")
            node.text += text


def _forbidden(*_: object) -> None:
    raise RefusalError(
        "xml-not-allowed",
        "The file declares a document type or entities, which no bank statement needs.",
        "Fetch the statement from the bank itself.",
    )


def _forbidden_reference(*parts: object) -> int:
    _forbidden(*parts)
    return 0


def _too_much(what: str) -> RefusalError:
    return RefusalError(
        "damaged-file", f"This is no real bank statement: {what}.", "Fetch the file again."
    )
