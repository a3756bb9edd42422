"""Answers that cannot be: refused by name before anything is read."""

from __future__ import annotations

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from stallkeep_importers.contract import Options, RefusalError
from stallkeep_importers.currencies import minor_units
from stallkeep_importers.tables.dialects import DELIMITERS


def refuse_impossible(options: Options, fields: Sequence[str]) -> None:
    """Raise RefusalError when an option has a value no file can be read with.

    Args:
        options: What the shop knows and what it answered.
        fields: Canonical fields the importer has a use for.
    """
    for code in (options.currency, options.file_currency):
        if code is not None and code not in minor_units():
            raise _refusal("currency-unknown", f"There is no currency {code!r} in ISO 4217.")
    if options.delimiter is not None and options.delimiter not in DELIMITERS:
        shown = " ".join(DELIMITERS).replace("\t", "tab")
        raise _refusal("delimiter-unknown", f"Cells are parted by one of {shown}.")
    if options.header_record is not None and options.header_record < 0:
        raise _refusal("header-missing", "Records are counted from 1; 0 stands for no header.")
    if options.encoding is not None and not _is_encoding(options.encoding):
        raise _refusal("encoding-unknown", f"There is no encoding {options.encoding!r}.")
    if not _is_zone(options.time_zone):
        raise _refusal("zone-unknown", f"There is no time zone {options.time_zone!r}.")
    if strange := sorted(options.columns.keys() - set(fields)):
        raise _refusal(
            "field-unknown",
            f"There is no field {strange[0]!r} here; there are {', '.join(fields)}.",
        )


def _is_encoding(name: str) -> bool:
    try:
        b"a".decode(name)
    except UnicodeError:
        return True  # a single byte may be too little
    except (LookupError, ValueError):
        return False
    return True


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        return False
    return True


def _refusal(code: str, detail: str) -> RefusalError:
    return RefusalError(code, detail, "Give another answer, or none.")
