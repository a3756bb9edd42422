"""Write demo/picture.svg: what ``stallkeep demo --once`` prints, as a picture for the README.

Run it in the project's environment: ``python demo/picture.py``. It uses a database of its own.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from html import escape
from itertools import pairwise
from pathlib import Path

HERE = Path(__file__).parent
WHOLE = ("What was taken in", "What the ")
BEGUN = ("Which payment was for which piece", "Not settled")
LINES_OF_A_BEGUN_PART = 16
WIDTH, LINE, SIZE, EDGE = 720, 18, 14, 16
PAPER, INK, RULE = "#faf8f3", "#2b2b28", "#8a6d3b"


def main() -> None:
    """Run the demo and draw its main parts."""
    lines = _shortened(_run())
    height = len(lines) * LINE + 2 * EDGE
    drawn = [_line(number, line) for number, line in enumerate(lines, 1) if line.strip()]
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" '
        f'font-family="DejaVu Sans Mono, Menlo, Consolas, monospace" font-size="{SIZE}">\n'
        f'<rect width="{WIDTH}" height="{height}" fill="{PAPER}"/>\n'
        + "\n".join(drawn)
        + "\n</svg>\n"
    )
    (HERE / "picture.svg").write_text(svg, encoding="utf-8")


def _line(number: int, line: str) -> str:
    color = RULE if "──" in line else INK
    place = f'x="{EDGE}" y="{EDGE + number * LINE - 5}"'
    return f'<text {place} fill="{color}" xml:space="preserve">{escape(line)}</text>'


def _run() -> list[str]:
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        command = [sys.executable, "-m", "stallkeep.cli", "demo", "--once", "--data-dir"]
        done = subprocess.run(  # noqa: S603 - our own program
            [*command, f"{folder}/data"], capture_output=True, text=True, check=True
        )
    return done.stdout.splitlines()


def _shortened(lines: list[str]) -> list[str]:
    shown: list[str] = []
    starts = [n for n, line in enumerate(lines) if line.endswith("──")] + [len(lines)]
    for start, end in pairwise(starts):
        part = [line.rstrip() for line in lines[start:end]]
        if part[0].startswith(WHOLE):
            shown += part
        elif part[0].startswith(BEGUN):
            shown += [*part[:LINES_OF_A_BEGUN_PART], "…", ""]
    return shown


if __name__ == "__main__":
    main()
