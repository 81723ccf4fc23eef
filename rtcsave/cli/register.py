"""A collector's register beside a survey: titles for its rows, what is missing, and rows for new saves."""

from __future__ import annotations

import os
from collections.abc import Iterator

from rtcsave.cli.console import complain, first_few
from rtcsave.collection import SurveyRow
from rtcsave.collection.shelf import TITLE, Shelf, read_shelf, with_saves
from rtcsave.errors import number_of
from rtcsave.storage.reading import read
from rtcsave.storage.writing import write


class Register:
    """The register that was named for a survey, or none; it notes what goes by."""

    def __init__(self, path: str | None, may_be_new: bool) -> None:
        self._path = path
        self._shelf: Shelf | None = None
        if path is not None and (os.path.lexists(path) or not may_be_new):
            self._shelf = read_shelf(path)
        self._seen: set[str] = set()
        self._new: list[str] = []

    @property
    def shelf(self) -> Shelf | None:
        """What was read, None for nothing."""
        return self._shelf

    @property
    def columns(self) -> tuple[str, ...]:
        """The columns that it adds to a survey."""
        return () if self._path is None else (TITLE,)

    def title_json(self, path: str) -> dict[str, str]:
        """What it says of a save; empty without a register."""
        if self._path is None:
            return {}
        entry = None if self._shelf is None else self._shelf.of(path)
        return {TITLE: "" if entry is None else entry.title}

    def noted(self, rows: Iterator[SurveyRow]) -> Iterator[SurveyRow]:
        """The rows, each noted as it goes by."""
        if self._path is None:
            yield from rows
            return
        for row in rows:
            if self._shelf is not None and self._shelf.of(row.path) is not None:
                self._seen.add(os.path.realpath(row.path))
            elif row.block is not None:
                self._new.append(row.path)
            yield row

    def say_missing(self) -> None:
        """Say which saves of the register were not found."""
        entries = {} if self._shelf is None else self._shelf.entries
        missing = [entry.path for key, entry in entries.items() if key not in self._seen]
        if missing:
            saves = number_of(len(missing), "save")
            complain(f"{self._path}: {saves} of it not found in this survey: {first_few(missing)}")

    def update(self) -> None:
        """Add a row for each save that it lacks; nothing else of it changes."""
        assert self._path is not None
        if not self._new:
            complain(f"{self._path}: no save is missing in it")
            return
        unfit = [path for path in self._new if not _is_utf8(path)]
        for path in unfit:
            complain(f"{path}: left out of the register: its name is not UTF-8")
        new = sorted(set(self._new).difference(unfit))
        data, origin = read(self._path) if os.path.lexists(self._path) else (b"", None)
        added = with_saves(data, self._path, new)
        written = write(added, self._path, origin=origin)
        backup = "" if written.backup is None else f"; backup {written.backup}"
        complain(
            f"{self._path}: {number_of(len(new), 'row')} added, for saves with a clock{backup}"
        )


def _is_utf8(path: str) -> bool:
    try:
        path.encode()
    except UnicodeEncodeError:
        return False
    return True
