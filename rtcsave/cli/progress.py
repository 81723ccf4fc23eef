"""A progress bar on standard error while files go by: only on a terminal, and only in its own time."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Iterator
from typing import Final, TypeVar

from rtcsave.collection.walking import walk

T = TypeVar("T")

TELL_EVERY_S: Final = 0.1


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

    total = sum(1 for _ in walk(paths, lambda *_: None, follow=follow, pattern=pattern))
    columns = (
        TextColumn("files"),
        MofNCompleteColumn(),
        TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
        TextColumn("left"),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("files", total=total, rate="")
        began = shown_at = time.monotonic()
        for count, row in enumerate(rows, 1):
            yield row
            now = time.monotonic()
            if now - shown_at > TELL_EVERY_S:
                shown_at = now
                rate = f"{count / (now - began):,.0f} a second"
                progress.update(task, completed=count, rate=rate)
