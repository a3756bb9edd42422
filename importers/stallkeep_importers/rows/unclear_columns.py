"""Columns under headings nobody knows whose cells would change what a row is: asked about."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from stallkeep_importers.cells.cell_tests import CARDS_TOO, share
from stallkeep_importers.contract import MappedColumn, QuestionError, RefusalError
from stallkeep_importers.currencies import currencies_of, minor_units
from stallkeep_importers.rows.column_questions import ask_columns
from stallkeep_importers.rows.columns import PERHAPS
from stallkeep_importers.rows.fields import MONEY_FIELDS, SIDED
from stallkeep_importers.rows.flags import answer_of, bare_state
from stallkeep_importers.rows.heading_senses import parts_named
from stallkeep_importers.rows.profiles import Profile
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.words import cell_words, heading_words, plain, plain_among

_USUAL = {"kind": {"payment", "instalment", "adjustment"}, "state": {"completed", "live"}}
_PARTS = frozenset({"fee", "tip", "tax", "surcharge", "postage"})
_KNOWN = 0.5
_DECIMALS = 2
_CODE_DIGITS = 2
# the answers a stall meets most when a try fails. Source: common practice, no source
_COMMON = frozenset({"05", "14", "51", "54", "55", "57", "61", "62", "65", "91"})
_FREE_TEXT = frozenset({"note", "title", "category"})
_SAYS = {
    "kind": "what kind of row each is",
    "state": "what became of each",
    "response": "whether each was approved or declined",
    "side": "whether money came or went",
    "currency": "which currency the amounts are in",
}


def refuse_unclear(sheet: Sheet, profile: Profile) -> None:
    """Ask about a column that is not used and speaks of refunds, of declined tries, of CR and DR.

    A payment that was declined, or money that went back, must not be taken for money that came
    only because nobody knows the column's heading.

    Raises:
        QuestionError: There is such a column, and nobody has said that it is none.
    """
    for field, words in _tables(profile).items():
        if field not in profile.fields or field in sheet.places or field in sheet.options.columns:
            continue
        flags = {flag.place for flag in (*sheet.flags, *sheet.denials)}
        for place, header in sheet.more:
            if place in flags:
                continue
            cells = [row[place] for row in sheet.table.sample]
            usual = _USUAL[field] | ({"payout"} if "covers" in profile.fields else set())
            told = _telling(cells, words, usual)
            if not told and not sheet.table.is_whole and _all_known(cells, words):
                told = [next(filter(str.strip, cells))]  # what is unusual may stand far below
            if told:
                raise _question(sheet, field, header, told)
    if "state" in profile.fields and profile.states == "states":
        _refuse_unclear_answers(sheet)
    if "response" in profile.fields:
        _refuse_unclear_codes(sheet)
    _refuse_unclear_side(sheet, profile)
    _refuse_unclear_currency(sheet, profile)
    _refuse_second_part(sheet)
    _refuse_split_decimals(sheet)
    if {"state", "external_id"} <= set(profile.fields) and "covers" not in profile.fields:
        _refuse_sums(sheet)


def _refuse_unclear_answers(sheet: Sheet) -> None:
    """Ask about yes and no under a word for what is paid: "Approved", "Success"."""
    if not {"state", "response"}.isdisjoint({*sheet.places, *sheet.options.columns}):
        return
    words = cell_words("states")
    told = {flag.place for flag in sheet.denials}
    for place, header in sheet.more:
        if place in told:
            continue
        cells = [row[place] for row in sheet.table.sample]
        answers = set(map(answer_of, cells))
        is_state = words.get(bare_state(sheet.table.headings[place].plain)) == "completed"
        if is_state and None not in answers and ("no" in answers or not sheet.table.is_whole):
            no = [cell for cell in cells if answer_of(cell) == "no"] or cells
            raise _question(sheet, "state", header, list(dict.fromkeys(no)))


def _refuse_unclear_codes(sheet: Sheet) -> None:
    """Ask about a column of two digits that may be the answers to each try: "00", "05", "51"."""
    if not {"state", "response"}.isdisjoint({*sheet.places, *sheet.options.columns}):
        return
    for place, header in sheet.more:
        cells = [cell for row in sheet.table.sample if (cell := row[place].strip())]
        told = sorted(_COMMON.intersection(cells))
        is_code = all(len(cell) == _CODE_DIGITS and cell.isdigit() for cell in cells)
        if is_code and told and cells.count("00") * 2 >= len(cells):
            raise _question(sheet, "response", header, told)


def _refuse_unclear_side(sheet: Sheet, profile: Profile) -> None:
    """Ask whether "debit" and "credit" are ways of the money, or kinds of card."""
    place = sheet.places.get("side")
    if place is None or "card_brand" not in profile.fields or "side" in sheet.options.columns:
        return
    cells = {plain(row[place]) for row in sheet.table.sample} - {""}
    if cells <= CARDS_TOO:
        raise _question(sheet, "side", sheet.header_of("side"), sorted(cells))


def _refuse_unclear_currency(sheet: Sheet, profile: Profile) -> None:
    """Ask about a column of other currencies that no heading puts beside the amounts."""
    is_said = "currency" in sheet.options.columns or sheet.options.file_currency
    if "currency" not in profile.fields or is_said:
        return
    if "currency" in sheet.places:
        _refuse_two_currencies(sheet)
        return
    for place, header in sheet.more:
        codes = {row[place].strip() for row in sheet.table.sample} - {""}
        if codes - {sheet.currency} and codes <= minor_units().keys():
            raise _question(sheet, "currency", header, sorted(codes - {sheet.currency}))


def _refuse_two_currencies(sheet: Sheet) -> None:
    """Ask where a heading names one currency and the column of currencies another."""
    said = {
        row[sheet.places["currency"]].strip() for row in sheet.table.sample
    } & minor_units().keys()
    for field in sorted(MONEY_FIELDS & sheet.places.keys()):
        sign = sheet.table.headings[sheet.places[field]].currency
        others = said - currencies_of(sign) if sign else ()
        if others:
            question = _question(sheet, "currency", sheet.header_of("currency"), sorted(others))
            question.detail = (
                f"The column “{sheet.header_of(field)}” is headed with {sign}, and the column "
                f"“{sheet.header_of('currency')}” says {', '.join(sorted(others)[:3])}."
            )
            raise question


def _refuse_second_part(sheet: Sheet) -> None:
    """Ask about a second column of fees or tips: one alone would be too little."""
    told = sheet.places.keys() - sheet.options.columns.keys() - sheet.maybe_further.keys()
    for column in sheet.columns:
        if column.field or column.header not in sheet.unused_money:
            continue
        for field in sorted(_parts_in(sheet, column) & told):
            own = sheet.header_of(field)
            question = ask_columns(sheet.table.headings, [field], sheet.table.sample)
            question.code = "column-unclear"
            question.detail = (
                f"The columns “{own}” and “{column.header}” both speak of a {field}, and we do "
                "not know which one is the whole."
            )
            question.advice = (
                f"Say {field}= with the heading of the whole {field}, and with nothing "
                "behind it if no column has it."
            )
            raise question


def _refuse_split_decimals(sheet: Sheet) -> None:
    """Ask where amounts seem to be cut at a decimal comma that also parts the cells.

    Raises:
        QuestionError: Amounts are whole, and the next cell of every row is two digits.
    """
    texts = {place for place, _ in sheet.more} | {
        place for field, place in sheet.places.items() if field in _FREE_TEXT
    }
    for field, place in sheet.places.items():
        if field not in SIDED or place + 1 not in texts or field in sheet.options.columns:
            continue
        pairs = [(row[place].strip(), row[place + 1].strip()) for row in sheet.table.sample]
        if sheet.table.dialect.delimiter == "," and _are_split(pairs):
            header = sheet.header_of(field)
            question = ask_columns(sheet.table.headings, [field], sheet.table.sample)
            question.code = "decimals-split"
            question.detail = (
                f"The amounts under “{header}” are whole, and two digits stand in the next cell "
                f"of every row, as in “{','.join(pairs[0])}”: they may be cut at a decimal comma."
            )
            question.advice = (
                "Export the file with semicolons or tabs between the cells; or say "
                f"{field}={header} if the amounts are whole."
            )
            raise question


def _are_split(pairs: Sequence[tuple[str, str]]) -> bool:
    filled = [(whole, part) for whole, part in pairs if whole or part]
    return bool(filled) and all(
        whole.lstrip("+-").isdigit() and len(part) == _DECIMALS and part.isdigit()
        for whole, part in filled
    )


def _refuse_sums(sheet: Sheet) -> None:
    """Refuse a file whose rows each sum up several payments, as a column counts them.

    Raises:
        RefusalError: There is such a column.
    """
    words = heading_words()
    for place, header in sheet.more:
        senses = {sense.field for sense in words.get(sheet.table.headings[place].plain, ())}
        cells = {row[place].strip() for row in sheet.table.sample} - {""}
        is_count = all(cell.isascii() and cell.isdigit() for cell in cells)
        if "payments_counted" in senses and is_count and cells - {"0", "1"}:
            raise RefusalError(
                "sums-not-payments",
                f"By its column “{header}” each row sums up several payments.",
                "Export the single payments, one in a row.",
                {"column": header},
            )


def _parts_in(sheet: Sheet, column: MappedColumn) -> set[str]:
    """Name the one part of an amount that a heading speaks of."""
    found = parts_named(sheet.table.headings[column.index].plain)
    parts = found | ({column.why.removeprefix(PERHAPS)} & _PARTS)
    return parts if len(parts) == 1 else set()  # "shipping tax" is neither


def _tables(profile: Profile) -> dict[str, Mapping[str, str]]:
    """Give the words of kinds and states; ways of paying, yes and no are none."""
    others = {**cell_words("methods"), **cell_words("cash"), **cell_words("answers")}
    return {
        field: {word: meaning for word, meaning in cell_words(table).items() if word not in others}
        for field, table in (("kind", "kinds"), ("state", profile.states))
    }


def _telling(cells: Sequence[str], words: Mapping[str, str], usual: Collection[str]) -> list[str]:
    """Give cells that are not the usual words, where most cells are words we know."""
    if share(lambda cell: plain_among(cell, words) in words, cells) < _KNOWN:
        return []
    found = dict.fromkeys(cell.strip() for cell in cells if cell.strip())
    return [cell for cell in found if words.get(plain_among(cell, words)) not in usual]


def _all_known(cells: Sequence[str], words: Mapping[str, str]) -> bool:
    return share(lambda cell: plain_among(cell, words) in words, cells) == 1


def _question(sheet: Sheet, field: str, header: str, told: Sequence[str]) -> QuestionError:
    question = ask_columns(sheet.table.headings, [field], sheet.table.sample)
    shown = ", ".join(f"“{cell[:40]}”" for cell in told[:2])
    question.code = "column-unclear"
    question.detail = (
        f"The column “{header}” holds {shown} and may say {_SAYS[field]}; its heading does not "
        "tell."
    )
    question.advice = (
        f"Say {field}={header} if it does, and {field}= with nothing behind it if it does not."
    )
    return question
