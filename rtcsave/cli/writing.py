"""What the writing commands share: where the result goes, the preview, the account of it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from rtcsave.cli.console import Sheet, complain
from rtcsave.cli.given import WritingOptions
from rtcsave.cli.paths import STREAM
from rtcsave.cli.session import Session
from rtcsave.cli.streams import to_stream
from rtcsave.differences import ByteChange, byte_changes
from rtcsave.errors import BadArgument, FileFault
from rtcsave.savefile import Origin, SaveFile, dumps, loads
from rtcsave.storage.beside import check_keep
from rtcsave.storage.changes import Change, FileWritten
from rtcsave.storage.dumping import times_to_keep_ns
from rtcsave.storage.looking import look_before, wait_until_quiet
from rtcsave.storage.writing import write_together

_MOST_LINES = 64
_MOST_BYTES = 16


@dataclass(kw_only=True)
class Result:
    """What a command made of one file, on its way to the disk, the terminal and JSON.

    `old` and `new` are the bytes of the file; `shape` is the save that names the bytes in the diff.
    `sheet` and `answers` hold what the command itself has to say. `others` are files that are written
    as one with this one, before it. `kind`, `times_ns` and `like` are for `Change`.
    """

    path: str
    old: bytes
    new: bytes
    sheet: Sheet
    answers: dict[str, Any]
    origin: Origin | None = None
    shape: SaveFile | None = None
    quiet_diff: bool = False
    others: tuple[Change, ...] = ()
    kind: str = ""
    times_ns: tuple[int, int] | None = None
    like: os.stat_result | None = None
    nothing: str = "nothing: no byte changes"
    kept_as: str = "backup"


def refuse_contradictions(session: Session[WritingOptions], paths: list[str]) -> None:
    """Refuse what cannot be: one output for several files, or a stream changed in place."""
    output = session.args.output
    if output is not None and len(paths) > 1:
        raise BadArgument(
            "-o takes the result of one file",
            found=f"{len(paths)} files",
            remedy="leave -o out to change each in place, after a backup",
        )
    check_keep(session.args.keep, not session.args.no_backup)
    if output is None and STREAM in paths and not session.args.dry_run:
        raise BadArgument(
            "standard input cannot be changed in place", remedy="say where to write: -o OUT or -o -"
        )
    if output == STREAM and sys.stdout.isatty() and not session.args.dry_run:
        raise BadArgument(
            "the terminal is no place for a save's bytes", remedy="send standard output to a file"
        )


def refuse_own_input(output: str, inputs: Iterable[str]) -> None:
    """Refuse to write a picture, a calendar or a clock over a file that is read."""
    for path in inputs:
        if STREAM not in (path, output) and is_same_file(output, path):
            raise BadArgument(
                "the output is a file that is read", found=output, remedy="name another output"
            )


def is_same_file(a: str, b: str) -> bool:
    """Whether two paths lead to one file, there or not yet."""
    if os.path.realpath(a) == os.path.realpath(b):
        return True
    return os.path.exists(a) and os.path.exists(b) and os.path.samefile(a, b)


def changes_json(changes: Iterable[ByteChange]) -> list[dict[str, Any]]:
    """Byte changes as JSON: the offset, the bytes in hexadecimal, the field."""
    return [
        {
            "offset": change.offset,
            "old": change.old.hex(),
            "new": change.new.hex(),
            "field": change.field,
        }
        for change in changes
    ]


def _hex(data: bytes) -> str:
    shown = data[:_MOST_BYTES].hex(" ") if data else "(none)"
    return f"{shown} ... ({len(data):,} bytes)" if len(data) > _MOST_BYTES else shown


def add_change_lines(sheet: Sheet, changes: Iterable[ByteChange], label: str = "bytes") -> None:
    """The byte diff: offset, old, new, field."""
    listed = list(changes)
    for at, change in enumerate(listed[:_MOST_LINES]):
        sheet.add(
            label if not at else "",
            f"{change.offset:6d} ({change.offset:05X}h)  {_hex(change.old)} -> {_hex(change.new)}  "
            f"{change.field}",
        )
    if len(listed) > _MOST_LINES:
        sheet.add("", f"and {len(listed) - _MOST_LINES} more places")
    if not listed:
        sheet.add(label, "none changes")


def finish_save(
    session: Session[WritingOptions],
    path: str,
    old: bytes,
    new: SaveFile,
    sheet: Sheet,
    answers: dict[str, Any],
    others: tuple[Change, ...] = (),
    quiet_diff: bool = False,
) -> None:
    """Write a save where it belongs, or show what would change; then print the account."""
    data = dumps(new)
    try:
        loads(data, None, session.also_layouts, session.now_s)
    except FileFault as error:  # zeros, or a layout of one's own: it is right all the same
        if new.block is not None:
            name = new.block.layout.name
            sheet.add("mind", f"it reads with --layout {name} only: {error.what}", "warning")
    finish(
        session,
        Result(
            path=path,
            old=old,
            new=data,
            sheet=sheet,
            answers=answers,
            origin=new.origin,
            shape=new,
            quiet_diff=quiet_diff,
            others=others,
            times_ns=times_to_keep_ns(new),
        ),
    )


def finish(session: Session[WritingOptions], result: Result) -> None:
    """Write a result where it belongs, or show what would change; then print the account of it."""
    args = session.args
    output = result.path if args.output is None else args.output
    shape = result.shape
    block = None if shape is None else shape.block
    memory_bytes = len(result.new) if shape is None else len(shape.memory)
    changes = byte_changes(result.old, result.new, block, memory_bytes)
    written: FileWritten | None = None
    is_written = False
    if args.dry_run:
        _preview(session, result, output, changes)
    elif output == STREAM:
        _write_others(result)
        to_stream(result.new, result.others)
        is_written = session.has_written = True
    elif args.output is None and not changes and not result.others and result.times_ns is None:
        result.sheet.add("written", result.nothing, "good")
    else:
        writes = (*result.others, _change(session, result, output))
        for change in writes:
            wait_until_quiet(os.fspath(change.path))
        written = write_together(writes, complain)[-1]
        session.has_written = written.changed or bool(result.others)
        is_written = written.changed or args.output is not None
        _add_written(result, written)
    session.console.sheet(result.sheet)
    account = {
        **not_written(args.dry_run),
        "changes": changes_json(changes),
        "written": is_written,
        "output": output if is_written else None,
        "backup": None if written is None else written.backup,
    }
    session.console.object({**result.answers, **account})


def not_written(dry_run: bool) -> dict[str, Any]:
    """The account of a result that was not written, as the JSON keys have it."""
    return {"changes": [], "dry_run": dry_run, "written": False, "output": None, "backup": None}


def _change(session: Session[WritingOptions], result: Result, output: str) -> Change:
    """What is to be written where."""
    args = session.args
    return Change(
        data=result.new,
        path=output,
        origin=result.origin,
        backup=not args.no_backup,
        overwrite=args.overwrite or (bool(result.kind) and args.output is None),
        times_ns=result.times_ns,
        kind=result.kind if args.output is None else "",
        like=result.like,
        keep=args.keep,
    )


def _preview(
    session: Session[WritingOptions], result: Result, output: str, changes: tuple[ByteChange, ...]
) -> None:
    """What a write would do: everything that could refuse it is asked, nothing is written."""
    for change in result.others:
        _look(change)
    if output != STREAM and (session.args.output is not None or changes):
        _look(_change(session, result, output))
    if not result.quiet_diff:
        add_change_lines(result.sheet, changes)
    result.sheet.add("dry run", "nothing was written", "note")


def _look(change: Change) -> None:
    present = look_before(change.path, change.origin, change.overwrite, change.backup, change.data)
    if present is not None and present.data != change.data:
        for words in present.lost:
            complain(f"{change.path}: {words}")


def _add_written(result: Result, written: FileWritten) -> None:
    sheet = result.sheet
    sheet.add("written", written.path if written.changed else result.nothing, "good")
    if written.backup is not None:
        sheet.add(result.kept_as, written.backup)
    for left_over in written.left_over:
        sheet.add("left over", f"{left_over} could not be removed", "warning")


def _write_others(result: Result) -> None:
    if result.others:
        write_together(result.others, complain)
