"""Carrying out a plan for many files, and taking it back: both can be killed at any instant and run again."""

from __future__ import annotations

import errno
import json
import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final, Literal

from rtcsave.collection.plans import BatchPlan, PlannedFile, steps_of
from rtcsave.errors import (
    BadDescription,
    ChangedUnderneath,
    FileFault,
    FileMissing,
    RtcSaveError,
    SystemFailed,
)
from rtcsave.findings import examine
from rtcsave.layouts import Layout
from rtcsave.repair import plan_repair
from rtcsave.savefile import Origin, SaveFile, dumps
from rtcsave.storage.backups import put_back, read_backup
from rtcsave.storage.beside import backups
from rtcsave.storage.dumping import times_to_keep_ns
from rtcsave.storage.reading import decode, digest_of, read, read_bytes
from rtcsave.storage.system import dressing_errors, sync_file, sync_folder
from rtcsave.storage.writing import write
from rtcsave.units import LARGEST_FILE_BYTES

Outcome = Literal["done", "already", "nothing", "refused", "failed"]
LARGEST_JOURNAL: Final = 1_024 * LARGEST_FILE_BYTES


@dataclass(frozen=True, slots=True, kw_only=True)
class FileOutcome:
    """What became of one file."""

    path: str
    """The whole path."""
    outcome: Outcome
    """`done`, `already` (done before), `nothing` (no step), `refused` (it has changed) or `failed`."""
    words: str = ""
    """Why, where it was refused or failed."""
    backup: str | None = None
    """The backup that was made."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class BatchResult:
    """What became of all files, in their order."""

    outcomes: tuple[FileOutcome, ...]
    """One for each file."""

    def count(self, outcome: Outcome) -> int:
        """The number of files with this outcome."""
        return Counter(file_outcome.outcome for file_outcome in self.outcomes)[outcome]

    @property
    def ok(self) -> bool:
        """Whether no file was refused and none failed."""
        return not self.count("refused") and not self.count("failed")

    def __repr__(self) -> str:
        counted = Counter(file_outcome.outcome for file_outcome in self.outcomes)
        return f"<BatchResult: {', '.join(f'{n} {what}' for what, n in counted.items())}>"


class Journal:
    """What a batch did, written ahead: a line before a file is written, and one after it.

    Each line is synced before anything else is done. A line that was cut off by a kill is passed over.
    """

    def __init__(self, path: str) -> None:
        self.path: str = path
        self.lines: list[dict[str, Any]] = list(_lines(path)) if os.path.lexists(path) else []

    def add(self, line: dict[str, Any]) -> None:
        """Write a line, and have it on the disk."""
        is_new = not os.path.lexists(self.path)
        with dressing_errors("the journal cannot be written", self.path):
            with open(self.path, "ab") as stream:
                before = b"" if stream.tell() == 0 or self._ends_whole() else b"\n"
                stream.write(before + json.dumps(line).encode() + b"\n")
                stream.flush()
                sync_file(stream.fileno())
            if is_new:
                sync_folder(os.path.dirname(os.path.abspath(self.path)))
        self.lines.append(line)

    def _ends_whole(self) -> bool:
        with open(self.path, "rb") as stream:
            stream.seek(-1, os.SEEK_END)
            return stream.read(1) == b"\n"

    def begun(self) -> dict[str, dict[str, Any]]:
        """The last line of each file that was begun, by its path."""
        return {line["path"]: line for line in self.lines if "after" in line}


def _lines(path: str) -> Iterator[dict[str, Any]]:
    """The whole lines of a journal."""
    text = decode(read_bytes(path, LARGEST_JOURNAL)[0], path)
    for number, line in enumerate(text.split("\n"), 1):
        if not line.strip():
            continue
        try:
            entry = json.loads(line)
        except ValueError:
            continue  # cut off by a kill
        if not isinstance(entry, dict) or not isinstance(entry.get("path"), str):
            raise BadDescription("this is no journal", where=f"{path}, line {number}")
        yield entry


def apply_batch(plan: BatchPlan, journal: str, *, layouts: tuple[Layout, ...] = ()) -> BatchResult:
    """Carry out exactly what a plan says, each file with a backup, and write a journal of it.

    A file that is not as it was when the plan was made is refused. One that was done before is
    recognised: the batch may be killed at any instant and run again, with the same journal. `layouts` are
    those that the plan was made with. Every file has an outcome; none stops the others.
    """
    book = Journal(journal)
    begun = book.begun()
    return BatchResult(
        outcomes=tuple(_apply_one(planned, plan, book, begun, layouts) for planned in plan.files)
    )


def _apply_one(
    planned: PlannedFile,
    plan: BatchPlan,
    book: Journal,
    begun: dict[str, dict[str, Any]],
    layouts: tuple[Layout, ...],
) -> FileOutcome:
    if not planned.steps:
        return FileOutcome(path=planned.path, outcome="nothing")
    try:
        data, origin = read(planned.path)
        earlier = begun.get(planned.path)
        if earlier is not None and earlier["after"] == origin.digest:
            return FileOutcome(path=planned.path, outcome="already")
        if origin.digest != planned.digest:
            raise ChangedUnderneath(
                "the file is not as it was when the plan was made",
                where=planned.path,
                remedy="make a plan for it anew",
            )
        seen = examine(data, None, layouts, origin=origin, now=plan.now_s)
        only = tuple(step.code for step in planned.steps)
        steps, _ = steps_of(seen, plan, only)
        if steps != planned.steps:
            raise BadDescription(
                "the steps that are left in the plan would change other bytes than it says",
                where=planned.path,
                remedy="make a plan for it anew, with --skip for what is to be left",
            )
        repaired = plan_repair(seen, now=plan.now_s, past_range=plan.past_range).apply(only=only)
        new = dumps(repaired)
        return _write_one(planned.path, new, origin, repaired, book)
    except RtcSaveError as error:
        return _failed(planned.path, error)


def _write_one(
    path: str, new: bytes, origin: Origin, repaired: SaveFile, book: Journal
) -> FileOutcome:
    """Write a file, with a line in the journal before and one after."""
    line = {"path": path, "before": origin.digest, "after": digest_of(new)}
    book.add(line)
    written = write(new, path, origin=origin, times_ns=times_to_keep_ns(repaired))
    try:
        book.add({"path": path, "done": True, "backup": written.backup})
    except SystemFailed as error:
        error.remedy = f"the file was repaired (backup {written.backup}); run the plan again"
        raise
    words = "; ".join(written.lost)
    return FileOutcome(path=path, outcome="done", words=words, backup=written.backup)


def _failed(path: str, error: RtcSaveError) -> FileOutcome:
    refused = isinstance(error, (ChangedUnderneath, BadDescription))
    return FileOutcome(path=path, outcome="refused" if refused else "failed", words=str(error))


def undo_batch(journal: str) -> BatchResult:
    """Take a whole batch back, the last file first, from the backups that it made.

    A file that was written since is refused, and one that is as it was before the batch is left. May be
    killed at any instant and run again.
    """
    if not os.path.lexists(journal):
        raise FileMissing("there is no such journal", where=journal, remedy="check the path")
    book = Journal(journal)
    if not book.lines:
        raise FileFault("the journal names no file", where=journal)
    begun = list(book.begun().values())
    return BatchResult(outcomes=tuple(_undo_one(line) for line in reversed(begun)))


def _undo_one(line: dict[str, Any]) -> FileOutcome:
    path = line["path"]
    try:
        origin = read(path)[1]
        if origin.digest == line["before"]:
            return FileOutcome(path=path, outcome="already")
        if origin.digest != line["after"]:
            raise ChangedUnderneath(
                "the file has changed since the batch",
                where=path,
                remedy="to go back all the same, use `restore` for this file",
            )
        for backup in backups(path):
            data, status = read_backup(backup)
            if digest_of(data) == line["before"]:
                try:
                    written = put_back(path, data, status, origin=origin)
                except SystemFailed as error:
                    if error.errno != errno.ENAMETOOLONG:
                        raise
                    # what is replaced can be made again: from this backup, by the plan
                    written = put_back(path, data, status, origin=origin, backup=False)
                return FileOutcome(path=path, outcome="done", backup=written.backup)
        raise FileFault("the backup is gone", where=path, remedy="nothing was changed")
    except RtcSaveError as error:
        return _failed(path, error)
