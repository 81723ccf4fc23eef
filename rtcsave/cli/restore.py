"""`restore`: put a backup back."""

from __future__ import annotations

import argparse
import os

from rtcsave.cli.console import Sheet
from rtcsave.cli.parsing import add_writing
from rtcsave.cli.session import DONE, STREAM, Session
from rtcsave.cli.writing import add_change_lines, changes_json, finish_bytes, refuse_contradictions
from rtcsave.differences import byte_changes
from rtcsave.errors import BadArgument
from rtcsave.findings import examine
from rtcsave.storage.backups import Backup, backups, choose, restore
from rtcsave.storage.reading import read
from rtcsave.storage.writing import look_before

ABOUT = "put the newest backup back in place of the file"
EXAMPLES = """\
The newest backup by the instant in its name is taken, then the number behind
it. What it replaces is kept as NAME.<instant>.undone.bak, which only --pick
puts back.

examples:
  rtcsave restore game.sav
  rtcsave restore game.sav --list
  rtcsave restore game.sav --pick game.sav.20260310T141500Z.bak
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("file", metavar="FILE", help="the file whose backup is wanted")
    parser.add_argument("--list", action="store_true", help="only name the backups, newest first")
    parser.add_argument("--pick", metavar="NAME", help="put back this one")
    add_writing(parser)


def run(session: Session) -> int:
    """Restore one file, or list what could be restored."""
    args = session.args
    if args.file == STREAM:
        raise BadArgument("standard input has no backups", remedy="name the file")
    file = session.one_file
    refuse_contradictions(session, [file])
    return session.each([file], lambda path: _work(session, path))


def _work(session: Session, path: str) -> int:
    args = session.args
    if args.list:
        found = backups(path)
        session.console.table(
            ("backup", "taken", "made by", ""),
            [(one.name, _when(one), _maker(one), _same_as_present(path, one)) for one in found],
        )
        for one in found:
            session.console.object(
                {
                    "path": one.path,
                    "instant": one.instant,
                    "number": one.number,
                    "undone": one.undone,
                }
            )
        if not found:
            session.console.line(f"{path}: no backups beside it")
        return DONE
    chosen = choose(path, args.pick)
    sheet = Sheet(f"{path}: restore {chosen.name}")
    told = {"path": path, "restored": chosen.path}
    data, _ = read(chosen.path)
    if args.output is not None:
        finish_bytes(session, path, b"", data, None, sheet, told, quiet_diff=True)
        return DONE
    present = look_before(path, overwrite=True)
    old = b"" if present is None else present.data
    backup = None
    written = False
    shape = examine(data, session.layout, session.also_layouts, now=session.now_s).save
    block = None if shape is None else shape.block
    memory_bytes = len(data) if shape is None else len(shape.memory)
    changes = byte_changes(old, data, block, memory_bytes)
    if args.dry_run:
        add_change_lines(sheet, changes)
        sheet.add("dry run", "nothing was written", "note")
    else:
        result = restore(path, args.pick, backup=not args.no_backup)
        written = result is not None
        backup = None if result is None else result.backup
        if result is None:
            sheet.add("written", "nothing: the file is the same as the backup", "good")
            older = [one.name for one in backups(path) if one.name != chosen.name]
            if older:
                all_of_them = " (--list names all)" if len(older) > 1 else ""
                sheet.add("others", f"--pick {older[0]}{all_of_them}")
        else:
            sheet.add("written", path, "good")
        if backup is not None:
            sheet.add("undone", f"{backup} holds what was replaced")
    session.console.sheet(sheet)
    session.console.object(
        {
            **told,
            "changes": changes_json(changes),
            "dry_run": args.dry_run,
            "written": written,
            "output": path if written else None,
            "backup": backup,
        }
    )
    return DONE


def _when(one: Backup) -> str:
    day, time = one.instant.rstrip("Z").split("T")
    return f"{day[:4]}-{day[4:6]}-{day[6:]} {time[:2]}:{time[2:4]}:{time[4:]} UTC"


def _same_as_present(path: str, one: Backup) -> str:
    same = os.path.exists(path) and read(path)[0] == read(one.path)[0]
    return "the same as the present file" if same else ""


def _maker(one: Backup) -> str:
    return "restore" if one.undone else "a writing command"
