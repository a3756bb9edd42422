"""Why nothing of a file was taken, as text: for every question and refusal there is."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.unit.importers.ledger import Messy, messy_files
from tests.unit.importers.reading import read

from stallkeep.work.import_order import told
from stallkeep.work.import_report import failure_report
from stallkeep_importers.contract import ImportStop, QuestionError

STOPPED = [file for file in messy_files() if file.says.strip().startswith(("ask ", "refuse "))]


@pytest.mark.parametrize("file", STOPPED, ids=lambda file: file.name)
def test_every_stop_can_be_told_in_words(file: Messy) -> None:
    with pytest.raises(ImportStop) as stopped:
        read(file.bytes, file.importer(), **file.options)
    text = failure_report(Path("may.csv"), told(stopped.value))
    assert stopped.value.detail in text
    assert stopped.value.advice in text
    if isinstance(stopped.value, QuestionError):
        assert "stallkeep import may.csv" in text
        assert all(f"  {choice.value}: " in text for choice in stopped.value.choices)


def test_a_question_about_columns_shows_them_with_cells() -> None:
    with pytest.raises(QuestionError) as asked:
        read("Qqq,Zzz\n2026-05-03,tea\n")
    text = failure_report(Path("may.csv"), told(asked.value))
    assert "Columns of the file:\n  Qqq: 2026-05-03\n  Zzz: tea\n" in text
