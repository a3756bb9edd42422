"""Where the demo's files are: inside the installed package, or in the checkout."""

from __future__ import annotations

from pathlib import Path

INSTALLED = Path(__file__).with_name("demo_files")
CHECKOUT = Path(__file__).parents[2] / "demo" / "files"


def demo_folder(*places: Path) -> Path:
    """Find the folder with setup.json, truth.json and the exports.

    Args:
        places: Where to look, in this order; the package, then the checkout, when left out.

    Raises:
        FileNotFoundError: It is in none of these places.
    """
    searched = places or (INSTALLED, CHECKOUT)
    for place in searched:
        if (place / "setup.json").is_file():
            return place
    raise FileNotFoundError(f"no demo files in {', '.join(map(str, searched))}")
