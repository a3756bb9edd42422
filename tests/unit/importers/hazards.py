"""Count the hazards of real exports and the tests that hold each.

    python -m tests.unit.importers.hazards

The list is ``hazards.toml`` beside this file.
"""

# ruff: noqa: T201 - it prints

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from tests.unit.importers.ledger import messy_files

HERE = Path(__file__).parent
TESTS = HERE.parents[1]


@cache
def hazards() -> Mapping[str, Mapping[str, list[str]]]:
    """Give group → hazard → names of its tests."""
    found: Mapping[str, Mapping[str, list[str]]] = tomllib.loads(
        HERE.joinpath("hazards.toml").read_text("utf-8")
    )
    return found


def faults_of(name: str) -> Iterator[str]:
    """Yield what is wrong with one named test: gone, or left out of the run."""
    if name.startswith("messy:"):
        if name.removeprefix("messy:") not in _messy_names():
            yield f"there is no messy export {name!r}"
        return
    module, _, function = name.partition("::")
    found = _functions(TESTS / f"{module}.py" if "/" in module else HERE / f"{module}.py")
    if function not in found:
        yield f"there is no test {name!r}"
    elif any(word in ast.dump(each) for each in found[function] for word in ("skip", "xfail")):
        yield f"the test {name!r} does not always run"


@cache
def _messy_names() -> frozenset[str]:
    return frozenset(file.name for file in messy_files())


@cache
def _functions(path: Path) -> Mapping[str, list[ast.expr]]:
    """Give the test functions of a file with their decorators, without running it."""
    if not path.is_file():
        return {}
    body = ast.parse(path.read_text("utf-8")).body
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    return {node.name: node.decorator_list for node in body if isinstance(node, kinds)}


def main() -> None:
    """Print the count of each group and of all."""
    tests: set[str] = set()
    count = 0
    for group, entries in hazards().items():
        own = {name for names in entries.values() for name in names}
        print(f"{group:<14} {len(entries):>4} hazards {len(own):>4} tests")
        tests |= own
        count += len(entries)
    print(f"{'all':<14} {count:>4} hazards {len(tests):>4} tests")


if __name__ == "__main__":
    main()
