"""The checks every importer must pass, ours and other people's.

An author of a plugin writes, in a test file that pytest collects:

    from stallkeep_importers.testing import (ImporterChecks, Sample)

    class TestMyImporter(ImporterChecks):
        importer = MyImporter
        samples = (Sample("one day", b"...", taken=3, secrets=("Ona Example",)),)

Each method below is one test. Nothing here needs more than the standard library and msgspec.
"""

# ruff: noqa: S101, PT017 - these are tests

from __future__ import annotations

import builtins
import datetime as dt
import io
import re
from collections.abc import Iterator, Sequence
from typing import Any, BinaryIO, ClassVar
from unittest import mock

import msgspec

from stallkeep_importers.contract import (
    CONTRACT_VERSION,
    CashCount,
    Counted,
    Expense,
    Importer,
    ImportStop,
    Layout,
    Listing,
    Notice,
    Options,
    Outcome,
    Recognition,
    Reject,
    Skip,
    Stub,
    Transaction,
)
from stallkeep_importers.currencies import minor_units

TAGS: dict[type, str] = {
    Transaction: "transaction",
    Listing: "listing",
    Counted: "counted",
    Stub: "stub",
    CashCount: "cash_count",
    Expense: "expense",
}
HOSTILE: tuple[bytes, ...] = (
    b"",
    b"\0",
    b"\n" * 50,
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b"\xff" * 300,
    b"PK\x03\x04" + b"\0" * 60,
    b"%PDF-1.7",
    b"\x1f\x8b\x08\0\0\0",
    b'"',
    b'"' * 999,
    b",;|\t" * 200,
    b"Date,Amount\n2025-05-03,1.50",
    b"Date,Amount\n" + b"2025-05-03,1.50\n" * 40 + b'"2025',
    b"<?xml version='1.0'?><a><b>",
    b"OFXHEADER:100\n<OFX><STMTTRN>",
    b"\xfe\xff\0D\0a",
    "Datum;Betrag\n03.05.2025;1,50\n".encode("utf-16"),
    bytes(range(256)),
)
_NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_CODE = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_NO_TEXT = re.compile("[\0\ud800-\udfff]")
_CLAIMED = 0.5


class Sample(msgspec.Struct, frozen=True):
    """One file of the importer's own kind, and what must come of it.

    Attributes:
        name: For messages.
        data: The bytes of the file.
        options: What the shop knows.
        taken: How many outcomes are neither rejects nor skips; None to leave it open.
        secrets: Texts in the file that must appear in no outcome.
    """

    name: str
    data: bytes
    options: Options = Options()
    taken: int | None = None
    secrets: tuple[str, ...] = ()


class ImporterChecks:
    """What the contract asks of an importer, one test each.

    Attributes:
        importer: The class, as the entry point names it.
        samples: At least one file it must read.
    """

    importer: ClassVar[type[Importer]]
    samples: ClassVar[Sequence[Sample]]

    def test_it_says_who_it_is(self) -> None:
        """Name, title, contract and kinds of outcomes are there and right."""
        importer = self.importer()
        assert isinstance(importer, Importer)
        assert importer.contract == CONTRACT_VERSION
        assert _NAME.fullmatch(importer.name), "the name is kebab-case"
        assert importer.title.strip()
        assert importer.gives, "it gives something"
        assert importer.gives <= set(TAGS.values()), "it gives kinds of outcomes there are"
        assert self.samples, "it has a sample"

    def test_it_knows_its_own_files(self) -> None:
        """A sample, and any beginning of it, is recognised without an error."""
        importer = self.importer()
        for sample in self.samples:
            own = importer.recognise(sample.data[: 1 << 16], sample.options)
            assert own.sureness >= _CLAIMED, f"{sample.name}: {own}"
            for length in range(0, min(len(sample.data), 400), 13):
                _in_bounds(importer.recognise(sample.data[:length], sample.options))

    def test_it_claims_no_rubbish_and_never_raises(self) -> None:
        """Whatever the bytes, recognising gives a sureness."""
        importer = self.importer()
        for data in HOSTILE:
            _in_bounds(importer.recognise(data, Options()))

    def test_the_layout_comes_first_and_every_record_has_one_outcome(self) -> None:
        """One layout, then outcomes numbered from 1 without a gap, in file order."""
        for sample in self.samples:
            layout, outcomes = self._read(sample)
            assert isinstance(layout, Layout), sample.name
            records = [each.record for each in outcomes]
            assert records == list(range(1, len(records) + 1)), sample.name
            lines = [each.line for each in outcomes]
            assert lines == sorted(lines), sample.name
            assert all(line >= 1 for line in lines), sample.name

    def test_it_gives_what_it_says_and_as_many(self) -> None:
        """Outcomes are of the kinds announced; samples give as many as they say."""
        gives = self.importer().gives
        for sample in self.samples:
            taken = [each for each in self._read(sample)[1] if not isinstance(each, (Reject, Skip))]
            assert {TAGS[type(each)] for each in taken} <= gives, sample.name
            assert sample.taken in (None, len(taken)), f"{sample.name}: took {len(taken)}"

    def test_values_keep_the_contracts_units_and_types(self) -> None:
        """Money is whole, currencies are ISO's, moments have an offset, text is text."""
        for sample in self.samples:
            for outcome in self._read(sample)[1]:
                check_outcome(outcome)

    def test_the_same_bytes_give_the_same_outcomes(self) -> None:
        """Nothing is kept between files, and nothing depends on how the stream hands out bytes."""
        importer = self.importer()
        for sample in self.samples:
            first = list(importer.read(io.BytesIO(sample.data), sample.options))
            assert first == list(importer.read(io.BytesIO(sample.data), sample.options))
            assert first == list(self.importer().read(_Drip(sample.data), sample.options))

    def test_it_opens_no_files_and_closes_no_stream(self) -> None:
        """Reading works with ``open`` forbidden, and leaves the stream to its owner."""
        for sample in self.samples:
            self._read(sample)  # what is read once per process may be read now
            stream = io.BytesIO(sample.data)
            with mock.patch.object(builtins, "open", _forbidden):
                found = self.importer().read(stream, sample.options)
                next(iter(found))
                list(found)
            assert not stream.closed, sample.name

    def test_any_bytes_end_in_outcomes_or_a_stop(self) -> None:
        """Rubbish, and samples cut or spoilt anywhere, never end in another error."""
        for data in (*HOSTILE, *self._spoilt()):
            try:
                for _ in self.importer().read(io.BytesIO(data), Options()):
                    pass
            except ImportStop as stop:
                assert _CODE.fullmatch(stop.code), stop.code
                assert stop.detail
                assert stop.advice

    def test_personal_data_never_come_out(self) -> None:
        """No secret of a sample is in any outcome, reject and skip included."""
        for sample in self.samples:
            told = repr(self._read(sample)[1])
            assert not [secret for secret in sample.secrets if secret in told], sample.name

    def _read(self, sample: Sample) -> tuple[object, list[Outcome]]:
        found = list(self.importer().read(io.BytesIO(sample.data), sample.options))
        assert not any(isinstance(each, Layout) for each in found[1:]), sample.name
        rest: list[Outcome] = [each for each in found[1:] if not isinstance(each, (Layout, Notice))]
        return found[0], rest

    def _spoilt(self) -> Iterator[bytes]:
        for sample in self.samples:
            data = sample.data
            for step in range(1, 12):
                cut = len(data) * step // 12
                yield data[:cut]
                yield data[:cut] + b"\0\xff\"'" + data[cut:]
                yield data[:cut] + data[cut + 1 :]
            yield data * 2
            yield data.replace(b"\n", b"\r")
            yield data[::-1]


def check_outcome(outcome: Outcome) -> None:
    """Check one outcome against the contract's units and types.

    Raises:
        AssertionError: A value is not what the contract says.
    """
    where = f"record {outcome.record}: {outcome}"
    for name in outcome.__struct_fields__:
        value = getattr(outcome, name)
        if name.endswith("_minor") and value is not None:
            assert type(value) is int, where
        if isinstance(value, str):
            assert not _NO_TEXT.search(value), where
    if isinstance(outcome, (Reject, Skip)):
        assert _CODE.fullmatch(outcome.code), where
        assert outcome.reason.strip(), where
        assert not any(map(_NO_TEXT.search, outcome.cells)), where
        return
    currency = getattr(outcome, "currency", None)
    assert currency is None or currency in minor_units(), where
    if isinstance(outcome, Transaction):
        _check_transaction(outcome, where)


def _check_transaction(found: Transaction, where: str) -> None:
    assert type(found.occurred_on) is dt.date, where
    if found.occurred_at is not None:
        assert found.occurred_at.utcoffset() is not None, where
        away = abs((found.occurred_at.date() - found.occurred_on).days)
        assert away <= 1, where
    if found.kind in ("payment", "sale"):
        assert found.amount_minor >= 0, where
    if found.kind == "refund":
        assert found.amount_minor <= 0, where
    for part in ("tip_minor", "tax_minor", "surcharge_minor", "postage_minor"):
        value = getattr(found, part)
        assert value is None or value * found.amount_minor >= 0, where
    assert found.quantity >= 0, where
    assert found.external_id != "", where


def _in_bounds(found: Recognition) -> None:
    assert 0 <= found.sureness <= 1
    assert found.why.strip()


def _forbidden(*args: object, **_: object) -> BinaryIO:
    raise AssertionError(f"an importer opens no files: {args[:1]}")


class _Drip(io.BytesIO):
    """A stream that never hands out more than a few bytes at a time."""

    def read(self, size: int | None = -1) -> bytes:
        return super().read(7 if size is None or size < 0 else min(size, 7))

    def read1(self, size: int | None = -1) -> bytes:
        return self.read(size)

    def readinto(self, buffer: Any) -> int:  # noqa: ANN401 - as in io.BytesIO
        piece = self.read(len(buffer))
        buffer[: len(piece)] = piece
        return len(piece)
