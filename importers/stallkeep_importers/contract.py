"""The plugin contract, version 1: what an importer is given and what it hands back.

An importer turns the bytes of one export into *outcomes*, one per record, in file order. It is
pure: it opens no file, asks no clock, no database and no settings; the same bytes and the same
options give the same outcomes. This module needs the standard library and msgspec only.

Version 1 is frozen: names, meanings, signs and units here do not change. Later versions may add
optional fields and outcomes; an importer states the version it was written for.

Signs and units, kept everywhere:

* money is an integer in minor units of an ISO 4217 currency (cents for EUR, yen for JPY);
* ``amount_minor`` is what the customer paid, tip, tax, surcharge and postage included:
  plus towards the seller (payment, sale, payout), minus away (refund, fee);
* ``fee_minor`` is plus when the provider keeps it, minus when it is given back;
* ``tip_minor``, ``tax_minor``, ``surcharge_minor``, ``postage_minor`` are parts of
  ``amount_minor`` and signed like it;
* ``record`` counts records from 1 (blank lines count, line breaks inside quotes do not), and
  ``line`` is the physical line, from 1, where the record starts.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import BinaryIO, Literal, Protocol, TypeAlias, runtime_checkable

import msgspec

CONTRACT_VERSION = 1
ENTRY_POINT_GROUP = "stallkeep.importers"

TransactionKind: TypeAlias = Literal["payment", "refund", "fee", "payout", "sale", "adjustment"]
Method: TypeAlias = Literal["card", "cash", "online", "transfer", "other"]
ListingState: TypeAlias = Literal["live", "ended", "sold"]
PartIs: TypeAlias = Literal["within", "on_top"]
CashCountKind: TypeAlias = Literal["float", "counted", "paid_in", "paid_out"]
CostKind: TypeAlias = Literal[
    "pitch_fee", "travel", "parking", "food", "lodging", "helpers", "supplies", "other"
]


class Record(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Where in the file an outcome comes from.

    Attributes:
        record: Record number from 1, blank lines counted.
        line: Physical line from 1 where the record starts.
    """

    record: int
    line: int


class Transaction(Record, frozen=True, kw_only=True, gc=False, tag="transaction"):
    """One canonical line of evidence. Units and signs: see the module.

    Attributes:
        kind: payment, refund, fee, payout, sale or adjustment (a dispute is an adjustment).
        amount_minor: Minor units of *currency*, signed.
        currency: ISO 4217 code.
        occurred_on: Date in the shop's zone.
        occurred_at: Moment with offset, or None where the file has no time of day.
        external_id: The provider's own id of this line, exactly as given. Where several lines of
            one order share the order's number, the piece's own reference follows it after " / ".
        method: How it was paid, where the file or the importer knows.
        fee_minor: Fee kept by the provider for this line; None when the file does not say.
        tip_minor: Tip within the amount.
        tax_minor: Tax within the amount.
        surcharge_minor: Charge for paying by card, within the amount.
        postage_minor: Postage the buyer paid, within the amount.
        postage_cost_minor: Postage the seller paid through the channel; plus is a cost.
        reference: The channel's reference of the listing or item, exactly as given.
        tag_code: Tag code where a column of its own gives one.
        title: Title of the piece, exactly as given.
        quantity: Pieces on the line.
        note: What was typed beside the payment, exactly as given.
        related_id: ``external_id`` of the line this one belongs to (a refund's payment).
        payout_id: Id of the payout that carried this line to the bank.
        detail: A closer word for the kind: "partial" (a refund of a part), "dispute",
            "dispute_reversed", "instalment", "refunded" and "partly_refunded" (a payment its
            own row marks so).
        refunded_minor: Part of the amount given back later, plus, where the export shows it on
            the payment's own row. A refund with a row of its own is not counted here.
        covers: ``external_id`` of each payment a payout carried, where its row lists them.
        more: Further columns kept as text, header to cell; never personal data.
    """

    kind: TransactionKind
    amount_minor: int
    currency: str
    occurred_on: dt.date
    occurred_at: dt.datetime | None = None
    external_id: str | None = None
    method: Method | None = None
    fee_minor: int | None = None
    tip_minor: int | None = None
    tax_minor: int | None = None
    surcharge_minor: int | None = None
    postage_minor: int | None = None
    postage_cost_minor: int | None = None
    reference: str | None = None
    tag_code: str | None = None
    title: str | None = None
    quantity: int = 1
    note: str | None = None
    related_id: str | None = None
    payout_id: str | None = None
    detail: str | None = None
    refunded_minor: int | None = None
    covers: tuple[str, ...] | None = None
    more: dict[str, str] | None = None


class Listing(Record, frozen=True, kw_only=True, gc=False, tag="listing"):
    """One offer on a channel as its export shows it.

    Attributes:
        reference: The channel's reference of the listing; what makes it the same listing.
        title: Title as given.
        price_minor: Asking price, minor units, not negative; None when the file has none.
        currency: ISO 4217 code.
        state: live, ended (taken down) or sold.
        quantity: Pieces on offer, at least 0.
        tag_code: The seller's own code where the export carries it.
        size: Size as given.
        category: Category as given.
        listed_on: First day on offer.
        ended_on: Day it was sold or taken down.
    """

    reference: str
    title: str
    price_minor: int | None
    currency: str
    state: ListingState = "live"
    quantity: int = 1
    tag_code: str | None = None
    size: str | None = None
    category: str | None = None
    listed_on: dt.date | None = None
    ended_on: dt.date | None = None


class Counted(Record, frozen=True, kw_only=True, gc=False, tag="counted"):
    """One line of a stock count: a tag code that came home.

    Attributes:
        tag_code: As read, not yet checked against the stock.
        quantity: Pieces counted, at least 0.
        counted_on: Day of the count, if the file says.
    """

    tag_code: str
    quantity: int = 1
    counted_on: dt.date | None = None


class Stub(Record, frozen=True, kw_only=True, gc=False, tag="stub"):
    """One torn-off part of a tag, kept when the piece was sold.

    Attributes:
        tag_code: As read, not yet checked against the stock.
        position: Place in the list from 1; stubs are kept in the order of selling.
        day: Day of the sale, if the list says.
        price_minor: Price on the stub, minor units of *currency*, not negative; None without one.
        currency: ISO 4217 code of the price.
    """

    tag_code: str
    position: int
    day: dt.date | None = None
    price_minor: int | None = None
    currency: str | None = None


class CashCount(Record, frozen=True, kw_only=True, gc=False, tag="cash_count"):
    """One line of a cash tally that is no sale: what was in the box, put in or taken out.

    Attributes:
        what: float (in the box at opening), counted (in the box at closing), paid_in or paid_out.
        amount_minor: Minor units of *currency*, never negative; *what* gives the direction.
        currency: ISO 4217 code.
        counted_on: Day, if the file says.
        note: What was written beside it, exactly as given.
    """

    what: CashCountKind
    amount_minor: int
    currency: str
    counted_on: dt.date | None = None
    note: str | None = None


class Expense(Record, frozen=True, kw_only=True, gc=False, tag="expense"):
    """One cost.

    Attributes:
        kind: Cost category.
        amount_minor: Minor units, tax included; plus is money spent, minus money given back.
        currency: ISO 4217 code.
        spent_on: Day.
        tax_minor: Tax within the amount, signed like it.
        external_id: Receipt or booking number, exactly as given.
        note: What it was for, exactly as given.
    """

    kind: CostKind
    amount_minor: int
    currency: str
    spent_on: dt.date
    tax_minor: int | None = None
    external_id: str | None = None
    note: str | None = None


class Reject(Record, frozen=True, kw_only=True, gc=False, tag="reject"):
    """A record that could not be taken, kept whole.

    Attributes:
        code: Kebab-case, stable ("money-unreadable").
        reason: One sentence for the seller: what was wrong.
        advice: One sentence: what to do.
        column: Header of the cell at fault, None when the whole record is.
        value: The cell as it stood.
        cells: The record as it stood, personal columns blanked.
    """

    code: str
    reason: str
    advice: str
    column: str | None = None
    value: str | None = None
    cells: tuple[str, ...] = ()


class Skip(Record, frozen=True, kw_only=True, gc=False, tag="skip"):
    """A record left out on purpose and counted.

    Attributes:
        code: Kebab-case, stable: "above-header", "header", "blank", "totals", "not-completed" …
        reason: One sentence.
        cells: The record as it stood, personal columns blanked; empty for a blank line.
    """

    code: str
    reason: str
    cells: tuple[str, ...] = ()


Outcome: TypeAlias = Transaction | Listing | Counted | Stub | CashCount | Expense | Reject | Skip


class MappedColumn(msgspec.Struct, frozen=True, kw_only=True):
    """One column of the file and what it was taken for.

    Attributes:
        index: Place in the record, from 0.
        header: As it stands in the file.
        field: Canonical field, or None when the column is not used.
        sureness: 0 to 1.
        why: Short reason ("header word", "you said so", "cells look like dates").
        personal: True when the column holds personal data and is dropped at the door.
    """

    index: int
    header: str
    field: str | None
    sureness: float
    why: str
    personal: bool = False


class Layout(msgspec.Struct, frozen=True, kw_only=True):
    """How the file was read; handed out once, before the first outcome.

    Attributes:
        fingerprint: Equal for two files with the same header and dialect.
        encoding: Codec name.
        delimiter: One character, "" for files that are no tables.
        header_record: Record number of the header, 0 without one.
        columns: Every column in file order.
        decimal_mark: "." or ",", None where no amount needed it.
        date_order: "ymd", "dmy" or "mdy", None where no date needed it.
        notices: Sentences about what was assumed.
        lines: Physical lines of the whole file, to show progress against; None when unknown.
        currency: ISO 4217 code the amounts were read in; None where each row names its own.
        settled: Option to value: with these, a part of the file is read as the whole was.
    """

    fingerprint: str
    encoding: str
    delimiter: str
    header_record: int
    columns: tuple[MappedColumn, ...] = ()
    decimal_mark: str | None = None
    date_order: str | None = None
    notices: tuple[str, ...] = ()
    lines: int | None = None
    currency: str | None = None
    settled: Mapping[str, str] = {}


class Notice(msgspec.Struct, frozen=True, kw_only=True):
    """Something about the file as a whole that the seller should know; not an outcome."""

    code: str
    text: str


class Options(msgspec.Struct, frozen=True, kw_only=True):
    """What the shop knows and what it answered. None means "find out, or ask".

    Attributes:
        currency: The shop's ISO 4217 currency.
        time_zone: The shop's IANA zone; zone-less times are read in it.
        languages: The shop's languages, most likely first (ISO 639-1).
        file_name: Name of the file as it arrived, for recognition only.
        columns: Canonical field → header (or "#3" for the third column, or "" for a field the
            file has no column for) as confirmed by a person.
        encoding: Codec name.
        delimiter: One of ``, ; | tab``.
        decimal_mark: "." or ",".
        date_order: "ymd", "dmy" or "mdy".
        clock_change: Which of two equal local times is meant: "earlier" or "later".
        header_record: Record number of the header; 0 for none.
        file_currency: ISO 4217 code of amounts whose sign ("$", "kr") does not say.
        tip_is: Whether the amount column holds the tip ("within") or not ("on_top").
        tax_is: The same for tax.
        surcharge_is: The same for a charge for paying by card.
        postage_is: The same for postage the buyer paid.
        spent_is: Sign of money spent in a list of costs: "plus" or "minus".
        fees_are: Sign of fees the provider keeps: "plus" or "minus".
        authorised_is: Whether rows that are "authorised" were "paid" or only "reserved".
        amounts_are: Whether whole numbers are "major" units (euros) or "minor" ones (cents).
    """

    currency: str = "EUR"
    time_zone: str = "UTC"
    languages: tuple[str, ...] = ("en",)
    file_name: str = ""
    columns: Mapping[str, str] = {}
    encoding: str | None = None
    delimiter: str | None = None
    decimal_mark: Literal[".", ","] | None = None
    date_order: Literal["ymd", "dmy", "mdy"] | None = None
    clock_change: Literal["earlier", "later"] | None = None
    header_record: int | None = None
    file_currency: str | None = None
    tip_is: PartIs | None = None
    tax_is: PartIs | None = None
    surcharge_is: PartIs | None = None
    postage_is: PartIs | None = None
    spent_is: Literal["plus", "minus"] | None = None
    fees_are: Literal["plus", "minus"] | None = None
    authorised_is: Literal["paid", "reserved"] | None = None
    amounts_are: Literal["major", "minor"] | None = None


class Recognition(msgspec.Struct, frozen=True, kw_only=True):
    """How sure an importer is that a file is its own.

    Attributes:
        sureness: 0 (not mine) to 1 (certainly mine).
        why: One short sentence.
    """

    sureness: float
    why: str


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """One possible answer to a question: the option's value and what it would make of the file."""

    value: str
    meaning: str


class ImportStop(Exception):  # noqa: N818 - a stop is a question or a refusal, named so below
    """The file cannot be taken as it stands; nothing of it is.

    Attributes:
        code: Kebab-case, stable.
        detail: What was seen, for the seller.
        advice: What to do.
        facts: Further members for the problem document (columns found, lines …).
    """

    def __init__(
        self, code: str, detail: str, advice: str, facts: Mapping[str, object] | None = None
    ) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.advice = advice
        self.facts = dict(facts or {})


class RefusalError(ImportStop):
    """Not a file this importer can take: empty, cut short, another file type, two tables."""


class QuestionError(ImportStop):
    """The file can be read in two ways and does not say which.

    Attributes:
        parameter: Name of the option that answers ("decimal_mark", "date_order", "columns" …).
        choices: The possible answers, each with what it would make of the file's own values;
            empty where the answer is free (a column map).
    """

    def __init__(
        self,
        code: str,
        detail: str,
        advice: str,
        *,
        parameter: str,
        choices: tuple[Choice, ...] = (),
        facts: Mapping[str, object] | None = None,
    ) -> None:
        super().__init__(code, detail, advice, facts)
        self.parameter = parameter
        self.choices = choices


@runtime_checkable
class Importer(Protocol):
    """What an entry point of the group ``stallkeep.importers`` names: a class without arguments.

    Attributes:
        contract: Version of this contract the importer was written for (1).
        name: Kebab-case, equal to the entry point's name.
        title: For people, in a few words.
        gives: Tags of the outcomes it hands back ("transaction", "listing" …).
    """

    contract: int
    name: str
    title: str
    gives: frozenset[str]

    def recognise(self, sample: bytes, options: Options) -> Recognition:
        """Say how sure it is that a file beginning with *sample* (64 KiB at most) is its own.

        Never raises for any bytes.
        """
        ...

    def read(self, stream: BinaryIO, options: Options) -> Iterator[Layout | Notice | Outcome]:
        """Hand back one outcome per record, in file order; before the first, the layout.

        A stop may come at any point of the iteration (a file cut short shows only at its end),
        so a caller keeps nothing before the iterator has ended.

        Args:
            stream: Seekable, at position 0, opened for reading bytes. Read in pieces; it may be
                read through more than once, and is left open.
            options: The shop's facts and answers.

        Raises:
            QuestionError: Something must be asked first.
            RefusalError: The file cannot be this importer's.
        """
        ...
