"""The word files: every language reads a table of its own, and no word says two things."""

# ruff: noqa: RUF001 - a heading in wide letters is wanted

from __future__ import annotations

from collections import defaultdict

import pytest
from tests.unit.importers.reading import asked, read, table

from stallkeep_importers.contract import Expense
from stallkeep_importers.expenses import Expenses
from stallkeep_importers.resale_sales import ResaleSales
from stallkeep_importers.words import Language, languages, plain

PAYMENTS = {
    "en": ("Date", "Amount", "Fee", "Tip", "Status", "Note", "paid", "declined"),
    "de": ("Datum", "Betrag", "Gebühr", "Trinkgeld", "Status", "Notiz", "bezahlt", "abgelehnt"),
    "fr": ("Date", "Montant", "Frais", "Pourboire", "Statut", "Libellé", "payé", "refusé"),
    "es": ("Fecha", "Importe", "Comisión", "Propina", "Estado", "Nota", "pagado", "rechazado"),
    "it": ("Data", "Importo", "Commissione", "Mancia", "Stato", "Causale", "pagato", "rifiutato"),
    "nl": ("Datum", "Bedrag", "Commissie", "Fooi", "Status", "Opmerking", "betaald", "geweigerd"),
    "pt": ("Data", "Valor", "Comissão", "Gorjeta", "Estado", "Observações", "pago", "recusado"),
    "sv": ("Datum", "Belopp", "Avgift", "Dricks", "Status", "Kommentar", "betald", "nekad"),
    "da": ("Dato", "Beløb", "Gebyr", "Drikkepenge", "Status", "Bemærkning", "betalt", "afvist"),
    "nb": ("Dato", "Beløp", "Gebyr", "Tips", "Status", "Merknad", "betalt", "kansellert"),
    "fi": ("Päivämäärä", "Summa", "Palvelumaksu", "Tippi", "Tila", "Selite", "maksettu", "hylätty"),
    "pl": ("Data", "Kwota", "Prowizja", "Napiwek", "Status", "Uwagi", "opłacone", "odrzucona"),
    "cs": ("Datum", "Částka", "Poplatek", "Spropitné", "Stav", "Poznámka", "zaplaceno", "zrušeno"),
    "ja": ("日付", "金額", "手数料", "チップ", "状態", "備考", "完了", "失敗"),
}
SALES = {
    "en": ("Sold on", "Item title", "Sale price", "Postage", "Commission"),
    "de": ("Verkauft am", "Artikel", "Verkaufspreis", "Porto", "Provision"),
    "fr": ("Vendu le", "Titre", "Prix de vente", "Frais de port", "Commission"),
    "es": ("Vendido el", "Título", "Precio de venta", "Gastos de envío", "Comisión"),
    "it": ("Venduto il", "Titolo", "Prezzo di vendita", "Spedizione", "Commissione"),
    "nl": ("Verkocht op", "Titel", "Verkoopprijs", "Verzendkosten", "Commissie"),
    "pt": ("Vendido em", "Título", "Preço de venda", "Portes", "Comissão"),
    "sv": ("Såld den", "Titel", "Försäljningspris", "Frakt", "Provision"),
    "da": ("Solgt den", "Titel", "Salgspris", "Fragt", "Provision"),
    "nb": ("Solgt den", "Tittel", "Salgspris", "Frakt", "Provisjon"),
    "fi": ("Myyntipäivä", "Tuote", "Myyntihinta", "Postikulut", "Myyntipalkkio"),
    "pl": ("Data sprzedaży", "Przedmiot", "Cena sprzedaży", "Wysyłka", "Prowizja"),
    "cs": ("Datum prodeje", "Položka", "Prodejní cena", "Poštovné", "Provize"),
    "ja": ("販売日", "商品名", "販売価格", "送料", "販売手数料"),
}
TABLES = ("kinds", "cash", "states", "listing_states", "methods", "costs", "sides", "yes_says")


def test_each_language_has_words_of_its_own_here() -> None:
    assert set(languages()) == set(PAYMENTS) == set(SALES)


@pytest.mark.parametrize("code", sorted(PAYMENTS))
def test_payments_are_read_in_every_language(code: str) -> None:
    date, amount, fee, tip, state, note, paid, failed = PAYMENTS[code]
    header = (date, amount, fee, tip, state, note)
    rows = [
        ("2025-05-03", "12.50", "0.30", "0", paid, "x"),
        ("2025-05-03", "9", "0", "0", failed, ""),
    ]
    found = read(table(rows, header), languages=(code,))
    assert [(each.amount_minor, each.fee_minor, each.note) for each in found.transactions] == [
        (1250, 30, "x")
    ]
    assert found.codes == ["header", "not-completed"]


@pytest.mark.parametrize("code", sorted(SALES))
def test_sales_are_read_in_every_language_whatever_the_shops_own(code: str) -> None:
    found = read(table([("2025-05-03", "x", "8.00", "4.00", "1.00")], SALES[code]), ResaleSales())
    assert [(each.amount_minor, each.fee_minor, each.title) for each in found.transactions] == [
        (1200, 100, "x")
    ]


@pytest.mark.parametrize("table_name", TABLES)
def test_no_cell_word_means_two_things(table_name: str) -> None:
    meanings: defaultdict[str, set[str]] = defaultdict(set)
    for language in languages().values():
        for meaning, words in getattr(language, table_name).items():
            for word in words:
                meanings[plain(word)].add(meaning)
    assert {word: found for word, found in meanings.items() if len(found) > 1} == {}


@pytest.mark.parametrize("code", sorted(PAYMENTS))
def test_every_language_has_every_word_list(code: str) -> None:
    language, english = languages()[code], languages()["en"]
    for name in Language.__struct_fields__:
        if name != "code_pages":
            missing = getattr(english, name).keys() - getattr(language, name).keys()
            assert not missing - {"card_brand", "covers", "supplier", "birth", "bank"}, name


def test_a_word_of_two_languages_is_read_in_the_one_of_the_others() -> None:
    """“Nombre” is a number of pieces in French and a name in Spanish."""
    french = read(
        table([("2025-05-03", "x", "8.00", "1")], ("Vendu le", "Titre", "Prix", "Nombre")),
        ResaleSales(),
    )
    assert french.transactions[0].quantity == 1
    spanish = read(
        table([("2025-05-03", "x", "8.00", "Ona")], ("Vendido el", "Título", "Precio", "Nombre")),
        ResaleSales(),
    )
    assert "Ona" not in repr(spanish.outcomes)


@pytest.mark.parametrize(
    ("heading", "expected"),
    [
        ("Gebühr (EUR)", "gebuhr eur"),
        ("MwSt", "mwst"),
        ("TXN_ID", "txn id"),
        ("  Größe ", "grosse"),
        ("Ｄａｔｅ", "date"),
        ("e-mail", "e mail"),
    ],
)
def test_headings_are_compared_in_plain_form(heading: str, expected: str) -> None:
    assert plain(heading) == expected


@pytest.mark.parametrize("heading", ["transactionDate", "TransactionDate", "transaction_date"])
def test_headings_of_programs_are_parted_where_they_are_not_known_whole(heading: str) -> None:
    found = read(table([("2025-05-03", "1.00")], (heading, "grossAmount")))
    assert found.amounts == [100]


@pytest.mark.parametrize("code", sorted(PAYMENTS))
def test_yes_under_refunded_is_read_in_every_language(code: str) -> None:
    language = languages()[code]
    yes, no = language.answers["yes"][0], language.answers["no"][0]
    header = (*PAYMENTS[code][:2], language.states["refunded"][0])
    rows = [("2025-05-03", "12.50", yes), ("2025-05-03", "9.00", no), ("2025-05-03", "7.00", "")]
    found = read(table(rows, header), languages=(code,))
    assert [each.amount_minor for each in found.transactions] == [900, 700]
    assert found.codes == ["header", "flag-unclear"]


@pytest.mark.parametrize("code", sorted(PAYMENTS))
def test_a_balance_in_the_note_is_no_payment_in_any_language(code: str) -> None:
    date, amount, *_, note, _, _ = PAYMENTS[code]
    label = languages()[code].totals["balances"][0]
    rows = [("2025-05-01", "50.00", label), ("2025-05-03", "9.00", "x")]
    found = read(table(rows, (date, amount, note)), languages=(code,))
    assert found.codes == ["header", "totals-unclear"]
    assert found.amounts == [900]


@pytest.mark.parametrize("code", sorted(PAYMENTS))
def test_what_was_spent_is_the_amount_of_costs_only(code: str) -> None:
    header = (PAYMENTS[code][0], languages()[code].columns["cost"][0])
    data = table([("2025-05-03", "9.00")], header)
    costs = read(data, Expenses(), languages=(code,)).taken
    assert [each.amount_minor for each in costs if isinstance(each, Expense)] == [900]
    assert asked(data, languages=(code,)).parameter == "columns"
