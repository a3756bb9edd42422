"""Write the demo's files anew: ``python demo/make.py``. Their content never changes by itself."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
FILES = HERE / "files"

if __name__ == "__main__":
    sys.path.insert(0, str(HERE.parent))

from demo.scenario import scenario  # noqa: E402 - a script's own folder hides the package


def write(folder: Path) -> None:
    """Write every file of the scenario into *folder*, and remove what it no longer makes."""
    folder.mkdir(parents=True, exist_ok=True)
    made = scenario()
    for path in folder.iterdir():
        if path.name not in made:
            path.unlink()
    for name, content in made.items():
        (folder / name).write_bytes(content)


if __name__ == "__main__":
    write(FILES)
