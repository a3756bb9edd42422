"""Every error a client can meet, found by walking the classes."""

from __future__ import annotations

import importlib
import pkgutil
import re
from collections import Counter
from collections.abc import Iterator

import pytest

import stallkeep
from stallkeep.api.problems import STATUS, status_of
from stallkeep.domain.errors import StallkeepError

for module in pkgutil.walk_packages(stallkeep.__path__, "stallkeep."):
    if ".migrations" not in module.name and not module.name.endswith("__main__"):
        importlib.import_module(module.name)


def _kinds(base: type[StallkeepError] = StallkeepError) -> Iterator[type[StallkeepError]]:
    for kind in base.__subclasses__():
        if kind.__module__.startswith("stallkeep.") and ".cli." not in kind.__module__:
            yield kind
            yield from _kinds(kind)


KINDS = [*_kinds()]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_an_error_has_a_code_a_title_a_meaning_and_a_category(kind: type[StallkeepError]) -> None:
    assert re.fullmatch("[a-z]+(-[a-z]+)*", kind.code)
    assert "code" in vars(kind)
    assert "title" in vars(kind)
    assert kind.title[0].isupper()
    assert kind.__doc__
    assert kind.__name__.endswith("Error")
    assert status_of(kind) in STATUS.values()


def test_no_code_occurs_twice() -> None:
    counted = Counter(kind.code for kind in KINDS)
    assert [code for code, times in counted.items() if times > 1] == []


def test_each_category_has_a_status_of_its_own() -> None:
    assert len(set(STATUS.values())) == len(STATUS)
    assert all(kind in KINDS for kind in STATUS)
