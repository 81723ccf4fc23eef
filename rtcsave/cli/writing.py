"""What the writing commands share: where the result goes, the preview, the account of it."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import Any

from rtcsave.cli.console import Sheet, silence_output
from rtcsave.cli.session import STREAM, Session
from rtcsave.differences import ByteChange, byte_changes
from rtcsave.errors import BadArgument, FileFault
from rtcsave.savefile import Origin, SaveFile, dumps, loads
from rtcsave.storage.system import world_failed
from rtcsave.storage.writing import look_before, time_to_keep, write

_MOST_LINES = 64
_MOST_BYTES = 16


def refuse_contradictions(session: Session, paths: list[str]) -> None:
    """Refuse what cannot be: one output for several files, or a stream changed in place."""
    output = session.args.output
    if output is not None and len(paths) > 1:
        raise BadArgument(
            "-o takes the result of one file",
            found=f"{len(paths)} files",
            remedy="leave -o out to change each in place, after a backup",
        )
    if output is None and STREAM in paths:
        raise BadArgument(
            "standard input cannot be changed in place", remedy="say where to write: -o OUT or -o -"
        )
    if output == STREAM and sys.stdout.isatty() and not session.args.dry_run:
        raise BadArgument(
            "the terminal is no place for a save's bytes", remedy="send standard output to a file"
        )


def changes_json(changes: Iterable[ByteChange]) -> list[dict[str, Any]]:
    """Byte changes as JSON: the offset, the bytes in hexadecimal, the field."""
    return [
        {"offset": one.offset, "old": one.old.hex(), "new": one.new.hex(), "field": one.field}
        for one in changes
    ]


def _hex(data: bytes) -> str:
    shown = data[:_MOST_BYTES].hex(" ") if data else "(none)"
    return f"{shown} ... ({len(data)} bytes)" if len(data) > _MOST_BYTES else shown


def add_change_lines(sheet: Sheet, changes: Iterable[ByteChange], label: str = "bytes") -> None:
    """The byte diff: offset, old, new, field."""
    held = list(changes)
    for at, one in enumerate(held[:_MOST_LINES]):
        sheet.add(
            label if not at else "",
            f"{one.offset:6d} ({one.offset:05X}h)  {_hex(one.old)} -> {_hex(one.new)}  {one.field}",
        )
    if len(held) > _MOST_LINES:
        sheet.add("", f"and {len(held) - _MOST_LINES} more places")
    if not held:
        sheet.add(label, "none changes")


def _to_stream(data: bytes) -> None:
    try:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    except OSError as error:
        silence_output()
        raise world_failed(error, "standard output cannot be written", "") from error


def finish(
    session: Session,
    path: str,
    old: bytes,
    new: SaveFile,
    origin: Origin | None,
    sheet: Sheet,
    told: dict[str, Any],
    quiet_diff: bool = False,
) -> None:
    """Write the result where it belongs, or show what would change; then print the account.

    `sheet` and `told` hold what the command itself has to say, and are completed here.
    """
    data = dumps(new)
    try:
        loads(data, None, session.also_layouts, session.now_s)
    except FileFault as error:  # zeros, or a layout of one's own: it is right all the same
        if new.block is not None:
            name = new.block.layout.name
            sheet.add("mind", f"it reads with --layout {name} only: {error.what}", "warning")
    finish_bytes(session, path, old, data, origin, sheet, told, new, quiet_diff)


def finish_bytes(
    session: Session,
    path: str,
    old: bytes,
    data: bytes,
    origin: Origin | None,
    sheet: Sheet,
    told: dict[str, Any],
    shape: SaveFile | None = None,
    quiet_diff: bool = False,
) -> None:
    """As `finish`, for bytes; `shape` is the save that names the bytes in the diff."""
    args = session.args
    output = path if args.output is None else args.output
    block = None if shape is None else shape.block
    memory_bytes = len(data) if shape is None else len(shape.memory)
    changes = byte_changes(old, data, block, memory_bytes)
    backup = None
    written = False
    if args.dry_run:
        if output != STREAM and (args.output is not None or changes):
            look_before(output, origin, args.overwrite, not args.no_backup)
        if not quiet_diff:
            add_change_lines(sheet, changes)
        sheet.add("dry run", "nothing was written", "note")
    elif output == STREAM:
        _to_stream(data)
        written = True
    elif args.output is None and not changes:
        sheet.add("written", "nothing: no byte changes", "good")
    else:
        result = write(
            data,
            output,
            origin=origin,
            backup=not args.no_backup,
            overwrite=args.overwrite,
            file_time_s=None if shape is None else time_to_keep(shape),
        )
        backup, written = result.backup, True
        sheet.add("written", output, "good")
        if backup is not None:
            sheet.add("backup", backup)
    session.console.sheet(sheet)
    session.console.object(
        {
            **told,
            "changes": changes_json(changes),
            "dry_run": args.dry_run,
            "written": written,
            "output": output if written else None,
            "backup": backup,
        }
    )
