"""Write demo/picture.svg: what ``stallkeep demo --once`` prints, as a picture for the README.

Run it in the project's environment, on an empty folder for the database:

    python demo/picture.py
"""

from __future__ import annotations

import io
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from rich._export_format import CONSOLE_SVG_FORMAT
from rich.console import Console
from rich.terminal_theme import TerminalTheme
from rich.text import Text

HERE = Path(__file__).parent
PAPER = TerminalTheme(
    (250, 248, 243),
    (43, 43, 40),
    [(43, 43, 40)] * 8,
)
SHEET = '<rect fill="#faf8f3" x="1" y="1" width="{terminal_width}" height="{terminal_height}"/>'
PARTS = ("What was taken in", "Which payment was for which piece", "What the ")
LINES_OF_A_PART = 14


def main() -> None:
    """Run the demo and draw the beginning of its main parts."""
    printed = _run()
    console = Console(record=True, width=82, file=io.StringIO())
    for line in _shortened(printed):
        indent = len(line) - len(line.lstrip())
        console.print(Text("\u00a0" * indent + line[indent:]))  # plain blanks would be dropped
    plain = re.sub(r"@font-face \{\{.*?\}\}\s*", "", CONSOLE_SVG_FORMAT, flags=re.DOTALL)
    plain = re.sub(r"<!--.*?-->", "", plain).replace("{chrome}", SHEET)
    svg = console.export_svg(theme=PAPER, code_format=plain)
    (HERE / "picture.svg").write_text(svg, encoding="utf-8")


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
    starts = [n for n, line in enumerate(lines) if line.startswith(PARTS)]
    ends = [n for n, line in enumerate(lines) if line.endswith("──")] + [len(lines)]
    for start in starts:
        end = min(n for n in ends if n > start)
        part = lines[start:end]
        whole = lines[start].startswith("What the ")
        shown += part if whole else [*part[:LINES_OF_A_PART], "…"]
        shown.append("")
    return shown


if __name__ == "__main__":
    main()
