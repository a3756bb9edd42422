"""How the interpreter works while many rows go through it."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

TURN_SECONDS: Final = 0.0005
NEW_OBJECTS: Final = 100_000


class _Pace:
    """Hurries while anybody asks for it.

    A thread may keep the event loop waiting less long: at the usual 5 ms the database waits a
    tenth of the time for its next bytes. And garbage is looked for less often: rows are many and
    hold no cycles, and looking through them takes a fifth of the time.
    """

    def __init__(self) -> None:
        self._hurrying = 0
        self._usual_seconds = 0.0
        self._usual_objects = (0, 0, 0)

    def hurry(self) -> None:
        if not self._hurrying:
            self._usual_seconds = sys.getswitchinterval()
            self._usual_objects = gc.get_threshold()
            sys.setswitchinterval(min(self._usual_seconds, TURN_SECONDS))
            gc.set_threshold(NEW_OBJECTS, *self._usual_objects[1:])
        self._hurrying += 1

    def rest(self) -> None:
        self._hurrying -= 1
        if not self._hurrying:
            sys.setswitchinterval(self._usual_seconds)
            gc.set_threshold(*self._usual_objects)


_pace = _Pace()


@contextmanager
def hurrying() -> Iterator[None]:
    """Hurry while the context is open; any number of contexts may be open together."""
    _pace.hurry()
    try:
        yield
    finally:
        _pace.rest()
