"""The work of a survey on many cores or machines: in chunks, a few ahead, and safe from workers that die."""

from __future__ import annotations

import contextlib
import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future
from itertools import islice
from typing import Any, Final, NamedTuple

from rtcsave.collection.looking import Settings, look
from rtcsave.collection.rows import SurveyRow
from rtcsave.errors import RtcSaveError


class Work(NamedTuple):
    """One file to look at: its path, whether it was named itself, and its program image."""

    path: str
    named: bool
    program: str | None


WINDOW: Final = 16
"""Chunks that are handed out before the first of them is waited for."""


def leave_interrupts() -> None:
    """Let Ctrl-C stop the process that waits and not this worker, which would break off between two locks."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def look_at_chunk(works: list[Work], settings: Settings) -> list[SurveyRow | None]:
    """The rows of some files, None for each that is passed over; what a worker runs."""
    return [look(path, settings, named=named, program=program) for path, named, program in works]


def spread(
    works: Iterable[Work],
    settings: Settings,
    make_executor: Callable[[], Any],
    chunk: int,
    *,
    ours: bool = False,
) -> Iterator[tuple[Work, SurveyRow | None]]:
    """The rows of many files, in their order, worked out by an executor; it is shut down if it is `ours`.

    A worker that dies may break its pool: it is made anew, and the files that were under way are looked
    at one by one. A file at which a worker dies again becomes a row with that error.
    """
    executor = make_executor()
    rest = iter(works)
    under_way: deque[tuple[Any, list[Work]]] = deque()
    try:
        while True:
            while len(under_way) < WINDOW and (part := list(islice(rest, chunk))):
                under_way.append((_submitted(executor, part, settings), part))
            if not under_way:
                return
            future, part = under_way.popleft()
            try:
                rows = future.result()
            except Exception:  # whatever an executor raises for a worker that is gone
                lost = [*part, *(work for _, others in under_way for work in others)]
                under_way.clear()
                executor = _anew(executor, make_executor)
                for work in lost:
                    row, executor = _carefully(work, settings, executor, make_executor)
                    yield work, row
                continue
            yield from zip(part, rows, strict=True)
    finally:
        for future, _ in under_way:
            future.cancel()
        if ours:
            executor.shutdown(wait=False, cancel_futures=True)


def _submitted(executor: Any, part: list[Work], settings: Settings) -> Any:
    try:
        return executor.submit(look_at_chunk, part, settings)
    except Exception as error:
        future: Future[Any] = Future()
        future.set_exception(error)
        return future


def _carefully(
    work: Work, settings: Settings, executor: Any, make_executor: Callable[[], Any]
) -> tuple[SurveyRow | None, Any]:
    """The row of one file only, and the executor to continue with."""
    try:
        return executor.submit(look_at_chunk, [work], settings).result()[0], executor
    except Exception as error:
        died = RtcSaveError(
            "a worker died while it looked at this file",
            found=f"{type(error).__name__}: {error}"[:200],
            remedy="look at it alone, in a process of its own",
        )
        row = SurveyRow.of_error(work.path, died, settings.now_s)
        return row, _anew(executor, make_executor)


def _anew(executor: Any, make_executor: Callable[[], Any]) -> Any:
    """Another executor in the place of one that may be broken; the same where only the caller has it."""
    made = make_executor()
    if made is not executor:
        with contextlib.suppress(Exception):
            executor.shutdown(wait=False, cancel_futures=True)
    return made
