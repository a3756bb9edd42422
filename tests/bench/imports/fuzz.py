"""Spoil files at random and read them, for as long as wanted.

    python -m tests.bench.imports.fuzz [SECONDS] [SEED]

Every importer must end every file in outcomes or a stop, keep the contract on the way, and do so
in time. The first file that does not is written beside the working directory and ends the run.
"""

# ruff: noqa: S311, T201 - dice for tests; it prints

from __future__ import annotations

import io
import random
import resource
import sys
import time
from collections import Counter
from pathlib import Path

from tests.unit.importers.ledger import messy_files

from stallkeep_importers.contract import Importer, ImportStop, Layout, Notice, Options, Reject, Skip
from stallkeep_importers.finder import load_importers, recognise_all
from stallkeep_importers.testing import HOSTILE, check_outcome

FILES = Path(__file__).parents[2] / "files" / "imports"
SLOWEST_SECONDS = 10.0
OTHERS = 0.2
MOST_SEEDS = 3000
TOKENS = (
    *(b'"', b'""', b"'", b",", b";", b"\t", b"|", b"\n", b"\r", b"\r\n", b"\0", b"\\", b"\xff"),
    *(b"\xef\xbb\xbf", b"\xc3", b"1.234", b"1,234.50", b"-", b"(", b")", b"%", b"=", b"Total,"),
    *(b"04/05/06", b"2025-10-26 02:30", b"2025-03-30 02:30", b"12 PM", b"kr", b"$", b"#", b"<a>"),
    *(b"&x;", b"<!DOCTYPE x>", b"</Ntry>", b"<Ntry>", b"<STMTTRN>", b"Date,Amount\n", b"E+17"),
    *("日付,金額\n".encode(), "Größe".encode("cp1252"), b"\x00D\x00a", b"PK\x03\x04", b"\x1f\x8b"),
)
OPTIONS = (
    Options(),
    Options(currency="SEK", time_zone="Europe/Stockholm", languages=("sv", "en")),
    Options(currency="JPY", time_zone="Asia/Tokyo", languages=("ja",), tip_is="within"),
    Options(date_order="dmy", decimal_mark=",", clock_change="earlier", file_currency="EUR"),
    Options(header_record=0, columns={"date": "#1", "amount": "#2", "tag_code": "#1"}),
)


def spoilt(data: bytes, dice: random.Random) -> bytes:
    """Change a file in one to four places."""
    for _ in range(dice.randint(1, 4)):
        at = dice.randint(0, len(data))
        until = min(len(data), at + dice.choice((0, 1, 2, 8, 64)))
        piece = data[at:until]
        change = dice.choice(("drop", "token", "token", "byte", "double", "move", "cut"))
        if change == "drop":
            data = data[:at] + data[until:]
        elif change == "token":
            data = data[:at] + dice.choice(TOKENS) + data[until:]
        elif change == "byte":
            data = data[:at] + bytes([dice.randrange(256)]) + data[at + 1 :]
        elif change == "double":
            data = data[:until] + piece * dice.choice((1, 2, 50)) + data[until:]
        elif change == "move":
            rest = data[:at] + data[until:]
            to = dice.randint(0, len(rest))
            data = rest[:to] + piece + rest[to:]
        elif change == "cut" and dice.random() < 0.3:
            data = data[:at]
    return data[: 1 << 16]


def try_one(importer: Importer, data: bytes, options: Options) -> str:
    """Read one file and say how it ended."""
    found = importer.recognise(data, options)
    assert 0 <= found.sureness <= 1
    records: list[int] = []
    taken = 0
    try:
        for each in importer.read(io.BytesIO(data), options):
            if isinstance(each, (Layout, Notice)):
                continue
            check_outcome(each)
            records.append(each.record)
            taken += not isinstance(each, (Reject, Skip))
    except ImportStop as stop:
        return stop.code
    assert records == list(range(1, len(records) + 1))
    return "taken" if taken else "nothing taken"


def main() -> None:
    """Run and report."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60
    dice = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    importers = load_importers().importers
    seeds = [
        (recognise_all(importers, path.read_bytes(), Options())[0][0], path.read_bytes())
        for path in sorted(FILES.iterdir())
    ]
    seeds += [(file.importer.name, file.bytes) for file in messy_files()]
    seeds += [(dice.choice(sorted(importers)), data) for data in HOSTILE]
    ends: Counter[str] = Counter()
    slowest = 0.0
    start = time.monotonic()
    while time.monotonic() - start < seconds:
        name, seed = dice.choice(seeds)
        data = spoilt(seed, dice)
        if dice.random() < OTHERS:
            name = dice.choice(sorted(importers))
        begun = time.monotonic()
        try:
            end = try_one(importers[name], data, dice.choice(OPTIONS))
        except BaseException:
            Path("fuzz-failure.bin").write_bytes(data)
            print(f"{name} failed after {ends.total()} files; see fuzz-failure.bin")
            raise
        ends[end] += 1
        slowest = max(slowest, time.monotonic() - begun)
        assert slowest < SLOWEST_SECONDS, name
        if end == "taken" and len(seeds) < MOST_SEEDS:
            seeds.append((name, data))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{ends.total()} files in {seconds:.0f} s, slowest {slowest:.2f} s, peak {peak:.0f} MB")
    for code, count in ends.most_common():
        print(f"{count:>8} {code}")


if __name__ == "__main__":
    main()
