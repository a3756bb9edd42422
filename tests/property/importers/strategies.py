"""Tables as the truth, and random ways to write them down."""

from __future__ import annotations

import csv
import datetime as dt
import io
from typing import Literal, NamedTuple

from hypothesis import strategies as st


class Truth(NamedTuple):
    """One payment as it really was."""

    on: dt.date
    minor: int
    note: str


class Style(NamedTuple):
    """One way to write a table down."""

    delimiter: str
    quoting: Literal[0, 1, 2, 3]
    quote: str
    end: str
    codec: str
    date_format: str
    mark: str
    group: str
    sign: str
    header: tuple[str, str, str]
    above: int
    padding: str


DATES = st.dates(dt.date(2015, 1, 1), dt.date(2035, 12, 31))
NOTES = st.text(st.characters(codec="cp1252", exclude_categories=["Cc", "Cs"]), max_size=20).map(
    lambda text: text.strip()
)
TRUTHS = st.lists(
    st.builds(Truth, DATES, st.integers(-500_000_00, 500_000_00), NOTES), min_size=1, max_size=12
)
FORMATS = (
    *("%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%Y/%m/%d", "%d %B %Y"),
    *("%B %d, %Y", "%d-%b-%Y", "%Y%m%d", "%d.%m.%y", "%m/%d/%y"),
)
HEADERS = (
    *(("Date", "Amount", "Note"), ("Datum", "Betrag", "Notiz"), ("Date", "Montant", "Libellé")),
    *(("Fecha", "Importe", "Descripción"), ("Data", "Importo", "Causale")),
    *(("Datum", "Bedrag", "Omschrijving"), ("Dato", "Beløb", "Bemærkning")),
)
STYLES = st.builds(
    Style,
    delimiter=st.sampled_from(",;\t|"),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC]),
    quote=st.sampled_from(['"', '"', '"', "'"]),
    end=st.sampled_from(["\n", "\r\n"]),
    codec=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"]),
    date_format=st.sampled_from(FORMATS),
    mark=st.sampled_from(".,"),
    group=st.sampled_from(["", "", "'", " ", "\u00a0", "other"]),
    sign=st.sampled_from(["", "", "€ ", " €", "EUR ", "after-minus", "brackets", "minus"]),
    header=st.sampled_from(HEADERS),
    above=st.integers(0, 3),
    padding=st.sampled_from(["", "", " "]),
)


def written_amount(minor: int, style: Style) -> str:
    """Write an amount in a style."""
    group = {"other": "," if style.mark == "." else "."}.get(style.group, style.group)
    whole, part = divmod(abs(minor), 100)
    number = f"{whole:,}".replace(",", group) + style.mark + f"{part:02}"
    if minor >= 0:
        shown = number
    elif style.sign == "after-minus":
        shown = number + "-"
    elif style.sign == "brackets":
        shown = f"({number})"
    elif style.sign == "minus":
        shown = "\u2212" + number if not style.codec.startswith("cp") else "-" + number
    else:
        shown = "-" + number
    if style.sign in ("€ ", "EUR "):
        return style.sign + shown
    return shown + style.sign if style.sign == " €" else shown


def written_table(truths: list[Truth], style: Style) -> bytes:
    """Write a table in a style."""
    out = io.StringIO(newline="")
    for number in range(style.above):
        out.write(f"Report {number}{style.end}")
    writer = csv.writer(
        out,
        delimiter=style.delimiter,
        quoting=style.quoting,
        quotechar=style.quote,
        lineterminator=style.end,
    )
    writer.writerow(style.header)
    for each in truths:
        cells = (each.on.strftime(style.date_format), written_amount(each.minor, style), each.note)
        writer.writerow([style.padding + cell + style.padding if cell else cell for cell in cells])
    return out.getvalue().encode(style.codec)
