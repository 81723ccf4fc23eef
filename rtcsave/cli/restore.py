"""`restore`: put a backup back."""

from __future__ import annotations

import argparse

from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import WritingOptions
from rtcsave.cli.parsing import add_writing
from rtcsave.cli.paths import STREAM, one_file
from rtcsave.cli.session import Session
from rtcsave.cli.words import value_json
from rtcsave.cli.writing import Result, finish, refuse_contradictions
from rtcsave.errors import BadArgument
from rtcsave.findings import examine
from rtcsave.storage.backups import choose, read_backup
from rtcsave.storage.beside import Backup, backups
from rtcsave.storage.looking import wait_until_quiet
from rtcsave.storage.writing import present_bytes

EXAMPLES = """\
The newest backup by the instant in its name is taken, then the number after
it. Called again, it goes one further back: to the next older backup with other
bytes. What it replaces is kept as NAME.<instant>.replaced.bak, which only
--pick puts back.

examples:
  rtcsave restore game.sav
  rtcsave restore game.sav --list
  rtcsave restore game.sav --pick game.sav.20260310T141500Z.bak
  rtcsave restore --journal plan.journal.jsonl
"""


class Options(WritingOptions):
    """The command's own options, as they were typed."""

    file: str | None
    journal: str | None
    list: bool
    pick: str | None


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("file", nargs="?", metavar="FILE", help="the file whose backup is wanted")
    parser.add_argument(
        "--journal",
        metavar="PLAN.journal.jsonl",
        help="take a whole batch back, as 'repair --apply' wrote it down",
    )
    parser.add_argument("--list", action="store_true", help="only name the backups, newest first")
    parser.add_argument("--pick", metavar="NAME", help="put back this one")
    add_writing(parser)


def run(session: Session[Options]) -> int:
    """Restore one file, or list what could be restored."""
    args = session.args
    if args.journal is not None:
        from rtcsave.cli.batches import take_back

        if args.file is not None or args.pick or args.list or args.output or args.dry_run:
            raise BadArgument("--journal goes alone")
        return take_back(session, args.journal)
    if args.file is None:
        raise BadArgument("no file was named", remedy="name one, or a journal with --journal")
    if args.file == STREAM:
        raise BadArgument("standard input has no backups", remedy="name the file")
    file = one_file(args.file)
    refuse_contradictions(session, [file])
    return session.each([file], lambda path: _work(session, path))


def _work(session: Session[Options], path: str) -> int:
    args = session.args
    if args.list:
        return _list(session, path)
    if not args.dry_run:
        wait_until_quiet(path)
    present = present_bytes(path)
    chosen = choose(path, args.pick, present)
    data, status = read_backup(chosen)
    shape = examine(data, session.layout, session.also_layouts, now=session.now_s).save
    result = Result(
        path=path,
        old=b"" if present is None else present,
        new=data,
        sheet=Sheet(f"{path}: restore {chosen.name}"),
        answers={"path": path, "restored": chosen.path},
        shape=shape,
        quiet_diff=args.output is not None,
        kind=".replaced",
        times_ns=(status.st_atime_ns, status.st_mtime_ns),
        like=status,
        nothing="nothing: the file is the same as the backup",
        kept_as="replaced",
    )
    if present == data and args.output is None:
        older = [backup.name for backup in backups(path) if backup.name != chosen.name]
        if older:
            all_of_them = " (--list names all)" if len(older) > 1 else ""
            result.sheet.add("others", f"--pick {older[0]}{all_of_them}")
    finish(session, result)
    return DONE


def _list(session: Session[Options], path: str) -> int:
    """Name the backups of a file, newest first."""
    known = backups(path)
    session.console.table(
        ("backup", "taken", "made by", ""),
        [(b.name, _when(b), _maker(b), _same_as_present(path, b)) for b in known],
    )
    for backup in known:
        session.console.object(value_json(backup))
    if not known:
        session.console.line(f"{path}: no backups beside it")
    return DONE


def _when(backup: Backup) -> str:
    day, time = backup.instant.rstrip("Z").split("T")
    return f"{day[:4]}-{day[4:6]}-{day[6:]} {time[:2]}:{time[2:4]}:{time[4:]} UTC"


def _same_as_present(path: str, backup: Backup) -> str:
    same = present_bytes(path) == read_backup(backup)[0]
    return "the same as the present file" if same else ""


def _maker(backup: Backup) -> str:
    return "restore" if backup.replaced else "a writing command"
