"""OFX and camt.053."""

from __future__ import annotations

import datetime as dt

import pytest
from tests.unit.importers.reading import BERLIN, read, refused

from stallkeep_importers.bank_camt import BankCamt
from stallkeep_importers.bank_ofx import BankOfx

OFX = """OFXHEADER:100
DATA:OFXSGML
VERSION:102
SECURITY:NONE
ENCODING:USASCII
CHARSET:1252
COMPRESSION:NONE
OLDFILEUID:NONE
NEWFILEUID:NONE

<OFX><SIGNONMSGSRSV1><SONRS><STATUS><CODE>0<SEVERITY>INFO</STATUS><DTSERVER>20250601120000
<LANGUAGE>ENG</SONRS></SIGNONMSGSRSV1>
<BANKMSGSRSV1><STMTTRNRS><TRNUID>1<STATUS><CODE>0<SEVERITY>INFO</STATUS>
<STMTRS><CURDEF>EUR
<BANKACCTFROM><BANKID>1<ACCTID>98765<ACCTTYPE>CHECKING</BANKACCTFROM>
<BANKTRANLIST><DTSTART>20250501<DTEND>20250531
{bookings}
</BANKTRANLIST>
<LEDGERBAL><BALAMT>100.00<DTASOF>20250531</LEDGERBAL>
</STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>
"""


def booking(
    amount: str, kind: str = "CREDIT", posted: str = "20250505", number: str = "F1", **more: str
) -> str:
    extra = "".join(f"<{name}>{text}\n" for name, text in more.items())
    return (
        f"<STMTTRN><TRNTYPE>{kind}<DTPOSTED>{posted}<TRNAMT>{amount}<FITID>{number}\n"
        f"<NAME>Ona Example\n{extra}</STMTTRN>"
    )


def ofx(*bookings: str) -> str:
    return OFX.format(bookings="\n".join(bookings))


def test_ofx_gives_money_in_as_payouts_and_the_banks_fees() -> None:
    data = ofx(
        booking("489.12", MEMO="payout P1"),
        booking("-2.50", "SRVCHG", number="F2"),
        booking("-20.00", "DEBIT", number="F3"),
    )
    found = read(data, BankOfx())
    assert [(each.kind, each.amount_minor, each.external_id) for each in found.transactions] == [
        ("payout", 48912, "F1"),
        ("fee", -250, "F2"),
    ]
    assert found.transactions[0].note == "payout P1"
    assert found.transactions[0].occurred_on == dt.date(2025, 5, 5)
    assert found.codes == ["money-out"]
    assert "Ona" not in repr(found.outcomes)


def test_ofx_bookings_name_their_line() -> None:
    data = ofx(booking("1.00"), booking("2.00"))
    lines = data.split("\n")
    assert all("<STMTTRN>" in lines[each.line - 1] for each in read(data, BankOfx()).outcomes)


@pytest.mark.parametrize(
    ("posted", "day", "moment"),
    [
        ("20250505", "2025-05-05", None),
        ("20250505000000", "2025-05-05", None),
        ("20250505120000", "2025-05-05", None),
        ("20250505120000.000[-5:EST]", "2025-05-05", "2025-05-05T17:00:00+00:00"),
        ("20250505233000[0:GMT]", "2025-05-06", "2025-05-05T23:30:00+00:00"),
    ],
)
def test_ofx_days_are_days_unless_a_time_is_given(
    posted: str, day: str, moment: str | None
) -> None:
    found = read(ofx(booking("1.00", posted=posted)), BankOfx(), **BERLIN).transactions[0]
    assert str(found.occurred_on) == day
    assert (found.occurred_at.isoformat() if found.occurred_at else None) == moment


@pytest.mark.parametrize(
    ("amount", "expected"),
    [
        *(("12.50", 1250), ("+12.50", 1250), ("12,50", 1250), ("12", 1200), ("12.505", None)),
        *(("1.234.567", None), ("abc", None), ("1,234.50", None)),
    ],
)
def test_ofx_amounts_have_one_mark_at_most(amount: str, expected: int | None) -> None:
    found = read(ofx(booking(amount)), BankOfx())
    assert found.amounts == ([expected] if expected else [])
    assert len(found.rejects) == (0 if expected else 1)


def test_ofx_that_is_none_or_is_cut_is_refused() -> None:
    assert refused("hello", BankOfx()).code == "other-file-type"
    assert refused(ofx(booking("1.00"))[:-200], BankOfx()).code == "cut-short"
    assert refused("OFXHEADER:100\n<OFX><A></B></OFX>", BankOfx()).code == "damaged-file"
    assert refused("", BankOfx()).code == "empty-file"


CAMT = """<?xml version="1.0" encoding="UTF-8"?>
<Document xmlns="urn:iso:std:iso:20022:tech:xsd:camt.053.001.{version}">
<BkToCstmrStmt><GrpHdr><MsgId>M1</MsgId></GrpHdr><Stmt><Id>S1</Id>
<Bal><Tp><CdOrPrtry><Cd>OPBD</Cd></CdOrPrtry></Tp><Amt Ccy="EUR">100.00</Amt>
<CdtDbtInd>CRDT</CdtDbtInd><Dt><Dt>2025-05-01</Dt></Dt></Bal>
<Bal><Tp><CdOrPrtry><Cd>CLBD</Cd></CdOrPrtry></Tp><Amt Ccy="EUR">{closing}</Amt>
<CdtDbtInd>CRDT</CdtDbtInd><Dt><Dt>2025-05-31</Dt></Dt></Bal>
{entries}
</Stmt></BkToCstmrStmt></Document>
"""


def entry(
    amount: str,
    side: str = "CRDT",
    state: str = "BOOK",
    when: str = "<Dt>2025-05-05</Dt>",
    more: str = "",
) -> str:
    status = f"<Sts>{state}</Sts>" if state == "BOOK" else f"<Sts><Cd>{state}</Cd></Sts>"
    return (
        f'<Ntry><Amt Ccy="EUR">{amount}</Amt><CdtDbtInd>{side}</CdtDbtInd>{status}\n'
        f"<BookgDt>{when}</BookgDt><AcctSvcrRef>R1</AcctSvcrRef>{more}"
        "<NtryDtls><TxDtls><Refs><EndToEndId>E1</EndToEndId></Refs>"
        "<RltdPties><Dbtr><Nm>Ona Example</Nm></Dbtr></RltdPties>"
        "<RmtInf><Ustrd>payout P1</Ustrd></RmtInf></TxDtls></NtryDtls></Ntry>"
    )


def camt(*entries: str, version: str = "08", closing: str = "589.12") -> str:
    return CAMT.format(entries="\n".join(entries), version=version, closing=closing)


FEE = "<BkTxCd><Domn><Fmly><SubFmlyCd>CHRG</SubFmlyCd></Fmly></Domn></BkTxCd>"


@pytest.mark.parametrize("version", ["02", "08", "13"])
def test_camt_gives_money_in_as_payouts_whatever_its_version(version: str) -> None:
    found = read(camt(entry("489.12"), version=version), BankCamt())
    payout = found.transactions[0]
    assert (payout.kind, payout.amount_minor, payout.currency) == ("payout", 48912, "EUR")
    assert (payout.external_id, payout.reference, payout.note) == ("R1", "E1", "payout P1")
    assert payout.occurred_on == dt.date(2025, 5, 5)
    assert "Ona" not in repr(found.outcomes)
    assert not found.notices


def test_camt_sides_states_and_reversals() -> None:
    data = camt(
        entry("2.50", "DBIT", more=FEE),
        entry("20.00", "DBIT"),
        entry("5.00", state="PDNG"),
        entry("7.00", "DBIT", more="<RvslInd>true</RvslInd>"),
        closing="70.50",
    )
    found = read(data, BankCamt())
    assert [(each.kind, each.amount_minor) for each in found.transactions] == [
        ("fee", -250),
        ("adjustment", -700),
    ]
    assert found.codes == ["money-out", "not-completed"]
    assert not found.notices


def test_camt_balances_that_do_not_add_up_are_said() -> None:
    found = read(camt(entry("489.12"), closing="600.00"), BankCamt())
    assert [notice.code for notice in found.notices] == ["totals-differ"]
    assert "add up to 489.12 EUR" in found.notices[0].text


def test_camt_moments_keep_their_offset() -> None:
    found = read(
        camt(entry("1.00", when="<DtTm>2025-05-05T23:30:00Z</DtTm>")), BankCamt(), **BERLIN
    )
    payout = found.transactions[0]
    assert str(payout.occurred_at) == "2025-05-05 23:30:00+00:00"
    assert payout.occurred_on == dt.date(2025, 5, 6)


def test_camt_entries_that_cannot_be_read_are_rejected_with_their_line() -> None:
    data = camt(entry("abc"), entry("1.00", side="XXXX"), entry("1.00", when="<Dt>soon</Dt>"))
    found = read(data, BankCamt())
    assert [each.code for each in found.rejects] == [
        "money-unreadable",
        "sign-unreadable",
        "date-unreadable",
    ]
    lines = data.split("\n")
    assert all("<Ntry>" in lines[each.line - 1] for each in found.rejects)


BOMB = """<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;">]>
<Document><BkToCstmrStmt>&b;</BkToCstmrStmt></Document>"""
EXTERNAL = """<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///a/file">]>
<Document><BkToCstmrStmt>&a;</BkToCstmrStmt></Document>"""
DEEP = (
    "<Document><BkToCstmrStmt><Ntry>"
    + "<a>" * 100
    + "</a>" * 100
    + "</Ntry></BkToCstmrStmt></Document>"
)
WIDE = "<Document><BkToCstmrStmt><Ntry>" + "<a/>" * 200_000 + "</Ntry></BkToCstmrStmt></Document>"


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (BOMB, "xml-not-allowed"),
        (EXTERNAL, "xml-not-allowed"),
        (DEEP, "damaged-file"),
        (WIDE, "damaged-file"),
        ("<Document><Something/></Document>", "other-file-type"),
        ("Date,Amount\n", "damaged-file"),
        ('<?xml version="1.0" encoding="UT8"?><Document/>', "damaged-file"),
        ('<?xml version="1.0" encoding="cp932"?><Document/>', "damaged-file"),
        ("", "empty-file"),
        (camt(entry("1.00"))[:-60], "cut-short"),
    ],
)
def test_xml_that_is_no_statement_is_refused(data: str, code: str) -> None:
    assert refused(data, BankCamt()).code == code


def test_ofx_with_entities_is_refused() -> None:
    data = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]><?OFX OFXHEADER="200"?><OFX></OFX>'
    assert refused(data, BankOfx()).code == "xml-not-allowed"


def test_a_large_statement_is_read_one_entry_at_a_time() -> None:
    data = camt(*(entry("1.00") for _ in range(5000)), closing="5100.00")
    assert sum(read(data, BankCamt()).amounts) == 500_000
