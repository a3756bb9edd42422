"""What a file says about all of its rows: the currency of amounts, the zone of times."""

from __future__ import annotations

from collections.abc import Mapping

from stallkeep_importers.cells.money import written
from stallkeep_importers.contract import Choice, Options, QuestionError
from stallkeep_importers.currencies import currencies_of
from stallkeep_importers.rows.fields import MONEY_FIELDS
from stallkeep_importers.tables.table import Table


def file_currency(table: Table, places: Mapping[str, int], options: Options) -> str:
    """Find the currency of amounts that name none.

    What was answered, else what the headings name, else the one currency the cells' signs mean,
    else what is said above the table, else the shop's own.

    Raises:
        QuestionError: The headings name a sign of several currencies, none of them the shop's.
    """
    if options.file_currency:
        return options.file_currency
    columns = [places[field] for field in places if field in MONEY_FIELDS]
    signs = {sign for place in columns if (sign := table.headings[place].currency)}
    found = {code for sign in signs for code in currencies_of(sign)}
    found = found or _common_currency(table, columns)
    if not found and table.said.currency:
        found = {table.said.currency}
    if not found or options.currency in found:
        return options.currency
    if len(found) == 1:
        return found.pop()
    raise QuestionError(
        "currency-undecided",
        f"The headings name a currency that may be {', '.join(sorted(found))}.",
        "Say which currency the file's amounts are in.",
        parameter="file_currency",
        choices=tuple(Choice(value=code, meaning=code) for code in sorted(found)),
    )


def file_zone(table: Table, places: Mapping[str, int], day_field: str | None) -> str:
    """Find the zone of times that name none: the headings', else what is said above the table.

    Returns:
        An offset or IANA name; "" for the shop's own zone.
    """
    columns = [places[field] for field in ("time", day_field or "") if field in places]
    zones = [zone for place in columns if (zone := table.headings[place].zone)]
    return next(iter(zones), table.said.zone)


def _common_currency(table: Table, columns: list[int]) -> set[str]:
    """Give the one currency that all signs in the sample's cells can mean, or none."""
    signs = {
        amount.money
        for place in columns
        for row in table.sample
        if (amount := written(row[place])) and amount.money
    }
    meant = [set(codes) for sign in signs if (codes := currencies_of(sign))]
    common = set.intersection(*meant) if meant else set()
    return common if len(common) == 1 else set()
