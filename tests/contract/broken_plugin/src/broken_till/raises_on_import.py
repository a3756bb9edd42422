"""A module that cannot be imported."""

raise RuntimeError("the till is on fire")
