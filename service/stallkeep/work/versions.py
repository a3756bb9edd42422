"""Changing only what one has read: the versions a client expects."""

from __future__ import annotations

import msgspec

from stallkeep.domain.errors import StaleVersionError


class Expected(msgspec.Struct, frozen=True):
    """The versions at which a change may be made; None for any."""

    versions: frozenset[int] | None

    def check(self, current: int) -> None:
        """Let the change go on.

        Raises:
            StaleVersionError: *current* is none of the expected versions.
        """
        if self.versions is not None and current not in self.versions:
            raise StaleVersionError("Read it again: it has changed since", current_version=current)


ANY = Expected(None)
