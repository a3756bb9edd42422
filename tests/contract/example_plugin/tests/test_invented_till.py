"""All a plugin's author has to write to have every check of the contract."""

from __future__ import annotations

from invented_till import InventedTill

from stallkeep_importers.testing import ImporterChecks, Sample

ROLL = b"TILL ROLL\n2025-05-03 10:12 #0001 CARD 12.50 mug\n2025-05-03 10:15 #0002 CASH -4.00\n---\n"


class TestInventedTill(ImporterChecks):
    importer = InventedTill
    samples = (Sample("one morning", ROLL, taken=2),)
