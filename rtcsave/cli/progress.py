"""A progress bar on standard error while files go by: only on a terminal, and only in its own time."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from typing import TypeVar

from rtcsave.collection.walking import walk

T = TypeVar("T")


def shown_progress(
    rows: Iterable[T], paths: list[str], pattern: str | None, follow: bool
) -> Iterator[T]:
    """The rows, with a bar that says how many, how quickly, and how long it will still take.

    The files are counted first, by their names alone; files that are no saves go by unseen, so the bar may
    end early. Nothing is shown where standard error is no terminal.
    """
    if not sys.stderr.isatty():
        yield from rows
        return
    from rich.console import Console
    from rich.progress import MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
    from rich.progress import TaskProgressColumn as Speed

    total = sum(1 for _ in walk(paths, follow=follow, pattern=pattern))
    columns = (
        TextColumn("files"),
        MofNCompleteColumn(),
        Speed(show_speed=True),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("files", total=total)
        for row in rows:
            progress.advance(task)
            yield row
