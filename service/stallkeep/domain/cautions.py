"""The sentence that stands wherever tax or profit is shown."""

from __future__ import annotations

CAUTION = (
    "These figures are arithmetic on what was entered. They are not tax, legal or accounting "
    "advice; ask your local tax authority or a licensed professional."
)
