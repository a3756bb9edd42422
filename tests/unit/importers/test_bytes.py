"""Bytes → text: encodings, damage, packing, and what is no table at all."""

from __future__ import annotations

import codecs
import gzip
import io
import zipfile

import pytest
from tests.unit.importers.reading import asked, read, refused, table

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.contract import Options, RefusalError
from stallkeep_importers.tables.file_types import plain_stream

HEADER = ("Datum", "Betrag", "Gebühr", "Notiz")
TEXT = table([("03.05.2025", "12,50", "0,35", "Grüße aus Łódź €")], HEADER, ";")
WESTERN = TEXT.replace("Łódź", "Köln")


@pytest.mark.parametrize(
    ("codec", "mark"),
    [
        ("utf-8", b""),
        ("utf-8", codecs.BOM_UTF8),
        ("utf-16-le", codecs.BOM_UTF16_LE),
        ("utf-16-be", codecs.BOM_UTF16_BE),
        ("utf-16-le", b""),
        ("utf-16-be", b""),
        ("utf-32-le", codecs.BOM_UTF32_LE),
    ],
)
def test_unicode_is_read_with_and_without_a_mark(codec: str, mark: bytes) -> None:
    found = read(mark + TEXT.encode(codec)).transactions
    assert [(each.amount_minor, each.note) for each in found] == [(1250, "Grüße aus Łódź €")]


@pytest.mark.parametrize(
    ("codec", "language", "header", "note"),
    [
        ("cp1252", "de", ("Datum", "Betrag", "Gebühr", "Notiz"), "Köln €"),
        ("cp1250", "pl", ("Data", "Kwota", "Prowizja", "Uwagi"), "Łódź żółw"),
        ("cp1250", "cs", ("Datum", "Částka", "Poplatek", "Poznámka"), "příliš žluťoučký"),
        ("cp932", "ja", ("日付", "金額", "手数料", "備考"), "青い湯呑み"),
        ("euc_jp", "ja", ("日付", "金額", "手数料", "備考"), "青い湯呑み"),
        ("cp1252", "fr", ("Date", "Montant", "Frais", "Libellé"), "œuf à la coque"),
        ("cp1252", "es", ("Fecha", "Importe", "Comisión", "Descripción"), "año"),
        ("cp1252", "sv", ("Datum", "Belopp", "Avgift", "Anteckning"), "räksmörgås"),
        ("cp1252", "da", ("Dato", "Beløb", "Gebyr", "Bemærkning"), "smørrebrød"),
        ("cp1252", "pt", ("Data", "Valor", "Comissão", "Descrição"), "pão"),
    ],
)
def test_code_pages_are_read_and_named(
    codec: str, language: str, header: tuple[str, ...], note: str
) -> None:
    data = table([("03.05.2025", "12.50", "0.35", note)], header).encode(codec)
    found = read(data, languages=(language,))
    assert [each.note for each in found.transactions] == [note]
    assert found.layout.encoding == codec
    assert any(codec in text for text in found.layout.notices)


@pytest.mark.parametrize("language", ["en", "fr"])
def test_a_heading_we_know_shows_the_code_page_of_another_language(language: str) -> None:
    header = ("Datum", "Částka", "Poplatek", "Poznámka")
    data = table([("03.05.2025", "12.50", "0.35", "žlutá")], header).encode("cp1250")
    assert read(data, languages=(language,)).transactions[0].note == "žlutá"


def test_text_that_turns_beyond_ascii_only_far_below_is_decided_from_the_whole_file() -> None:
    rows = [("03.05.2025", "12,50", "x")] * 60_000 + [("03.05.2025", "12,50", "für")]
    data = table(rows, delimiter=";").encode("cp1252")
    assert read(data, languages=("de",)).transactions[-1].note == "für"


def test_the_answer_names_the_encoding() -> None:
    data = TEXT.replace("Łódź", "Köln").encode("cp1252")
    assert read(data, encoding="cp1252").layout.encoding == "cp1252"
    assert refused(data, encoding="utf-16").code == "encoding-does-not-fit"
    assert refused(data, encoding="klingon").code == "encoding-unknown"


def test_one_bad_byte_costs_one_row() -> None:
    rows = [("2025-05-03", "1.50", note) for note in ("süß", "tür", "höhe", "käse")]
    data = table(rows).encode().replace("tür".encode(), b"t\xfcr")
    found = read(data)
    assert found.amounts == [150] * 3
    assert [(each.code, each.line) for each in found.rejects] == [("bad-bytes", 3)]
    assert "\ufffd" in found.rejects[0].cells[2]


def test_nuls_inside_a_row_cost_that_row() -> None:
    found = read(table([("2025-05-03", "1.5\0", "x"), ("2025-05-03", "2.50", "y")]))
    assert found.amounts == [250]
    assert [each.code for each in found.rejects] == ["bad-bytes"]
    assert not any("\0" in cell for cell in found.rejects[0].cells)


def test_a_file_filled_up_with_nuls_was_cut_short() -> None:
    data = table([("2025-05-03", "1.50", "x")]).encode() + b"\0" * 4096
    assert refused(data).code == "cut-short"


def test_gzip_is_looked_through() -> None:
    assert read(gzip.compress(TEXT.encode())).amounts == [1250]
    two = gzip.compress(TEXT.encode()) + gzip.compress(b"04.05.2025;1,00;;x\n")
    assert read(two).amounts == [1250, 100]


def test_gzip_cut_short_or_damaged_is_refused() -> None:
    packed = gzip.compress(TEXT.encode() * 1000)
    assert refused(packed[:-20]).code == "cut-short"
    damaged = packed[:-6] + b"\0\0" + packed[-4:]
    assert refused(damaged).code == "damaged-file"


def test_a_gzip_bomb_stops_at_its_bound() -> None:
    bomb = io.BytesIO(gzip.compress(b"a,b\n" * 3_000_000))
    stream = plain_stream(bomb, max_bytes=1 << 20)
    with pytest.raises(RefusalError, match="larger than 1 MiB") as caught:
        stream.read()
    assert caught.value.code == "unpacked-too-large"


def test_the_stream_is_left_open() -> None:
    stream = io.BytesIO(TEXT.encode())
    list(CardReaderPayments().read(stream, Options()))
    assert not stream.closed


def zipped(name: str) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr(name, "x")
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (zipped("xl/workbook.xml"), "xlsx"),
        (zipped("word/document.xml"), "docx"),
        (zipped("payments.csv"), "zip"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 100, "old spreadsheet"),
        (b"%PDF-1.7\n1 0 obj", "PDF"),
        (b"\x89PNG\r\n\x1a\n", "picture"),
        (b"\xff\xd8\xff\xe0", "picture"),
        (b"<!DOCTYPE html><html><body>Date,Amount</body></html>", "web page"),
        (b"  <html>\n<table><tr><td>Date</td></tr></table>", "web page"),
        (b"<?xml version='1.0'?><Document/>", "XML"),
        (b"OFXHEADER:100\nDATA:OFXSGML\n", "OFX"),
        (b'{"payments": []}', "JSON"),
        (b'[{"amount": 12}]', "JSON"),
        (b"{\\rtf1 Date,Amount}", "text document"),
        (b"SQLite format 3\0", "database"),
        (b"MIME-Version: 1.0\nContent-Type: text/csv\n", "e-mail"),
    ],
)
def test_other_files_under_this_name_are_refused_by_what_they_are(data: bytes, kind: str) -> None:
    refusal = refused(data)
    assert refusal.code == "other-file-type"
    assert kind in refusal.detail


@pytest.mark.parametrize("data", [b"", b"\n\n", b"  \r\n", codecs.BOM_UTF8, codecs.BOM_UTF16_LE])
def test_an_empty_file_is_refused(data: bytes) -> None:
    assert refused(data).code == "empty-file"


def test_a_header_alone_gives_no_rows() -> None:
    found = read("Date,Amount\n")
    assert found.codes == ["header"]


def test_prose_is_no_table() -> None:
    assert asked(b"Dear shop,\nplease find the numbers below.\nBye\n").parameter == "columns"


def test_a_cell_of_ten_megabytes_costs_one_row() -> None:
    huge = "x" * 10_000_000
    found = read(table([("2025-05-03", "1.50", huge), ("2025-05-03", "2.50", "y")]))
    assert found.amounts == [250]
    assert [each.code for each in found.rejects] == ["cell-too-large"]
    assert len(found.rejects[0].cells[2]) < 1000


def test_a_cell_larger_than_any_bound_costs_one_row() -> None:
    huge = "x" * 17_000_000
    found = read(table([("2025-05-03", "1.50", huge), ("2025-05-03", "2.50", "y")]))
    assert found.amounts == [250]
    assert [each.code for each in found.rejects] == ["cell-too-large"]


@pytest.mark.parametrize("cut", range(1, 21))
def test_a_file_cut_anywhere_in_its_last_row_is_never_taken_wrongly(cut: int) -> None:
    rows = [("2025-05-03", "112.50", f"n{number}") for number in range(5)]
    data = table(rows).encode()
    left = data[:-cut]
    if cut == 1 or left.endswith(b"\n"):
        assert len(read(left).amounts) == (5 if cut == 1 else 4)
    else:
        assert refused(left).code == "cut-short"


def test_a_last_amount_that_lost_its_decimals_was_cut_short() -> None:
    rows = [
        ("a", "2025-05-03", "112.50"),
        ("b", "2025-05-03", "113.50"),
        ("c", "2025-05-04", "9.50"),
    ]
    data = table(rows, ("Note", "Date", "Amount"))
    assert len(read(data).amounts) == 3
    assert read(data.rstrip("\n")).amounts[-1] == 950
    for cut in (1, 2, 3):
        assert refused(data.rstrip("\n")[:-cut]).code == "cut-short"
