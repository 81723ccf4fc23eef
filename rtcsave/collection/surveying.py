"""A survey of folders: a row a save, as they are found, on one core or on many."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any

from rtcsave.collection.looking import Settings, look, quick_look
from rtcsave.collection.rows import SurveyRow
from rtcsave.collection.walking import walk
from rtcsave.errors import BadArgument, shown
from rtcsave.layouts import Layout, check_layouts
from rtcsave.storage.reading import path_text
from rtcsave.storage.system import system_failed
from rtcsave.when import Instant, now_or

if TYPE_CHECKING:
    from rtcsave.collection.spreading import Work


def survey(
    paths: str | os.PathLike[str] | Iterable[str | os.PathLike[str]],
    *,
    layouts: Iterable[Layout] = (),
    now: Instant | None = None,
    programs: str | os.PathLike[str] | None = None,
    thorough: bool = False,
    follow: bool = False,
    pattern: str | None = None,
    executor: Any = None,
    chunk: int = 256,
    ordered: bool = False,
    on_passed: Callable[[str], object] | None = None,
) -> Iterator[SurveyRow]:
    """The saves in files and folders, a row each, as they are found.

    Folders are walked to any depth. A save is recognised by its length and content, not by its name;
    other files are passed over, and so are our backups, hidden files and links (`follow` goes through
    those). A file that is named itself always gives a row. One that cannot be read gives a row with
    its `error`. `layouts` are looked for beside the built-in ones. `programs` is a folder of program
    images: one with the name of a save says what its cartridge should hold. `pattern` (`*.sav`) is for
    the names in folders. `ordered` sorts the rows by path, folder by folder. `on_passed` is called with the
    path of each file that is passed over since it is no save: a save that was cut off may be among them.

    A healthy save is recognised by two small reads; `thorough` reads every file whole. `executor` is
    anything with the `submit` of `concurrent.futures`, or a function that makes one: then it is made
    anew where a worker that died has broken it. It gets `chunk` files a task, and never so many tasks
    that memory would grow with the collection.
    """
    if type(chunk) is not int or chunk < 1:
        raise BadArgument("chunk is a number of files, 1 or more", found=shown(chunk))
    has_submit = callable(getattr(executor, "submit", None))
    if executor is not None and not has_submit and not callable(executor):
        raise BadArgument("executor has no submit", found=shown(executor))
    if isinstance(paths, (str, os.PathLike)):
        paths = (paths,)
    names = [path_text(path) for path in paths]
    settings = Settings(now_s=now_or(now), layouts=check_layouts(layouts), thorough=thorough)
    known = {} if programs is None else _programs(path_text(programs))
    refused: list[SurveyRow] = []

    def on_refused(folder: str, error: OSError) -> None:
        failed = system_failed(error, "the folder or link cannot be read", folder)
        refused.append(SurveyRow.of_error(folder, failed, settings.now_s))

    paths_found = walk(names, on_refused, follow=follow, pattern=pattern, ordered=ordered)
    named = frozenset(names)
    passed = on_passed if on_passed is not None else _nothing
    if executor is None:
        return _here(paths_found, refused, settings, known, named, passed)
    from rtcsave.collection.spreading import Work, spread

    works = (Work(path, path in named, known.get(_stem(path))) for path in paths_found)
    make = (lambda: executor) if has_submit else executor
    rows = spread(works, settings, make, chunk, ours=not has_submit)
    return _spread(rows, refused, passed)


def _nothing(path: str) -> None:
    """What is done with a file that is passed over, where nobody asks."""


def _here(
    paths: Iterable[str],
    refused: list[SurveyRow],
    settings: Settings,
    programs: dict[str, str],
    named: frozenset[str],
    on_passed: Callable[[str], object],
) -> Iterator[SurveyRow]:
    """The rows of files, looked at here, and those of folders that were refused."""
    is_quick, now_s = settings.is_quick and not programs, settings.now_s
    for path in paths:
        row = quick_look(path, now_s) if is_quick else None
        if row is None:  # seldom
            row = look(path, settings, named=path in named, program=programs.get(_stem(path)))
            while refused:
                yield refused.pop(0)
            if row is None:
                on_passed(path)
                continue
        yield row
    yield from refused


def _spread(
    rows: Iterable[tuple[Work, SurveyRow | None]],
    refused: list[SurveyRow],
    on_passed: Callable[[str], object],
) -> Iterator[SurveyRow]:
    """Rows that an executor worked out, and those of folders that were refused."""
    for work, row in rows:
        while refused:
            yield refused.pop(0)
        if row is None:
            on_passed(work.path)
        else:
            yield row
    yield from refused


def _programs(folder: str) -> dict[str, str]:
    """The program images of a folder, by the name without its last suffix."""
    return {_stem(path): path for path in walk([folder], lambda *_: None, ordered=True)}


def _stem(path: str) -> str:
    return os.path.splitext(os.path.basename(path))[0]
