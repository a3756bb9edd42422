"""Each hazard of real exports has a test that exists and runs."""

from __future__ import annotations

import pytest
from tests.unit.importers.hazards import faults_of, hazards
from tests.unit.importers.ledger import messy_files

HAZARDS = {
    f"{group}: {hazard}": names
    for group, entries in hazards().items()
    for hazard, names in entries.items()
}


@pytest.mark.parametrize("hazard", HAZARDS)
def test_every_hazard_has_its_tests(hazard: str) -> None:
    assert HAZARDS[hazard], "a hazard without a test"
    assert [fault for name in HAZARDS[hazard] for fault in faults_of(name)] == []


def test_a_test_that_is_gone_is_noticed() -> None:
    assert list(faults_of("messy:no such export"))
    assert list(faults_of("test_bytes::test_no_such_test"))
    assert list(faults_of("test_no_such_file::test_gzip_is_looked_through"))


def test_no_two_messy_exports_share_a_name() -> None:
    names = [file.name for file in messy_files()]
    assert sorted(set(names)) == sorted(names)
