"""How far an import has come, as a bar; nothing at all where nobody looks at a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from rich.console import Console
from rich.progress import (
    BarColumn,
    Progress,
    ProgressColumn,
    Task,
    TaskID,
    TextColumn,
    TimeRemainingColumn,
)
from rich.table import Column
from rich.text import Text

from stallkeep.work.import_folder import Stage

LONGEST_NAME: Final = 22  # leaves room for the rest in 80 columns


@contextmanager
def import_bar(console: Console) -> Iterator[ImportBar]:
    """Show a bar while the context is open, and leave no trace of it."""
    watched = console.is_terminal and not console.is_dumb_terminal
    name = Column(no_wrap=True, overflow="ellipsis", max_width=LONGEST_NAME)
    progress = Progress(
        TextColumn("{task.description}", markup=False, table_column=name),
        BarColumn(bar_width=12),
        _Share(),
        _Rows(),
        TimeRemainingColumn(compact=True),
        console=console,
        transient=True,
        disable=not watched,
    )
    with progress:
        yield ImportBar(progress)


class ImportBar:
    """The bar of the file that is being taken in."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._name: str | None = None
        self._task: TaskID | None = None

    def show(self, stage: Stage) -> None:
        """Show a stage of the nightly job."""
        if self._task is None or stage.name != self._name:
            self._begin(stage)
        if self._task is not None and (come := stage.how_far) is not None:
            self._progress.update(
                self._task,
                total=come.file_bytes,
                completed=come.bytes_read,
                rows_read=come.rows_read,
            )

    def _begin(self, stage: Stage) -> None:
        if self._task is not None:
            self._progress.remove_task(self._task)
        self._name = stage.name
        which = f"{stage.number}/{stage.files} " if stage.files > 1 and stage.name else ""
        what = "Reconciling" if stage.name is None else which + stage.name
        self._task = self._progress.add_task(what, total=None, rows_read=None)


class _Share(ProgressColumn):
    """Share of the file's bytes that is read."""

    def render(self, task: Task) -> Text:
        return Text("" if task.total is None else f"{task.percentage:3.0f}%")


class _Rows(ProgressColumn):
    """Rows read and rows a second."""

    def render(self, task: Task) -> Text:
        rows, seconds = task.fields["rows_read"], task.elapsed
        if not rows or not seconds:
            return Text("")
        return Text(f"{rows:,} rows {rows / seconds:,.0f}/s")
