"""Every importer of ours against the checks of the contract, on files kept beside the tests."""

from __future__ import annotations

from pathlib import Path

from stallkeep_importers.bank_camt import BankCamt
from stallkeep_importers.bank_ofx import BankOfx
from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.card_reader_payouts import CardReaderPayouts
from stallkeep_importers.cash_tally import CashTally
from stallkeep_importers.contract import Options
from stallkeep_importers.expenses import Expenses
from stallkeep_importers.finder import load_importers
from stallkeep_importers.resale_listings import ResaleListings
from stallkeep_importers.resale_sales import ResaleSales
from stallkeep_importers.stock_count import StockCount
from stallkeep_importers.stubs import Stubs
from stallkeep_importers.testing import ImporterChecks, Sample

FILES = Path(__file__).parents[1] / "files" / "imports"


def sample(
    name: str,
    taken: int,
    *secrets: str,
    language: str = "en",
    currency: str = "EUR",
    time_zone: str = "Europe/Berlin",
) -> Sample:
    """One of the files, and how many of its records must be taken."""
    options = Options(currency=currency, time_zone=time_zone, languages=(language,), file_name=name)
    return Sample(name, (FILES / name).read_bytes(), options, taken, secrets)


class TestCardReaderPayments(ImporterChecks):
    importer = CardReaderPayments
    samples = (
        sample("card-reader-payments-en.csv", 5, "4417", "ona@example.org"),
        sample("card-reader-payments-de-cp1252.csv", 3, "Ona Beispiel", language="de"),
    )


class TestCardReaderPayouts(ImporterChecks):
    importer = CardReaderPayouts
    samples = (sample("card-reader-payouts-en.csv", 2),)


class TestResaleSales(ImporterChecks):
    importer = ResaleSales
    samples = (
        sample("resale-sales-pl-cp1250.csv", 2, "Ona", "Zmyślona", language="pl", currency="PLN"),
    )


class TestResaleListings(ImporterChecks):
    importer = ResaleListings
    samples = (sample("resale-listings-fr.csv", 3, language="fr"),)


class TestCashTally(ImporterChecks):
    importer = CashTally
    samples = (sample("cash-tally-sv.csv", 4, language="sv", currency="SEK"),)


class TestStockCount(ImporterChecks):
    importer = StockCount
    samples = (sample("stock-count-codes.txt", 4),)


class TestStubs(ImporterChecks):
    importer = Stubs
    samples = (sample("stubs-en.csv", 3),)


class TestExpenses(ImporterChecks):
    importer = Expenses
    samples = (sample("expenses-it-utf16.csv", 3, language="it"),)


class TestBankOfx(ImporterChecks):
    importer = BankOfx
    samples = (sample("bank-statement.ofx", 2, "Ona Example"),)


class TestBankCamt(ImporterChecks):
    importer = BankCamt
    samples = (sample("bank-statement-camt053.xml", 1, "Ona Example", "DE89370400440532013000"),)


def test_every_importer_of_ours_is_checked_here() -> None:
    checked = {checks.importer.name for checks in ImporterChecks.__subclasses__()}
    ours = {
        name
        for name, package in load_importers().packages.items()
        if package.startswith("stallkeep ")
    }
    assert ours <= checked
