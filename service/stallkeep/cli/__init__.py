"""The command line: a thin face over the work."""

from stallkeep.cli.main import main

__all__ = ["main"]
