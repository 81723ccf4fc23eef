"""`convert`: the same clock in another layout, split off, joined, put on or taken off."""

from __future__ import annotations

import argparse
from dataclasses import replace

from rtcsave.cli.clock_file import Options, attach, dropping, join, say_left_out, split
from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.parsing import add_writing
from rtcsave.cli.paths import one_file
from rtcsave.cli.session import Session
from rtcsave.cli.words import what_it_is
from rtcsave.cli.writing import finish_save, refuse_contradictions
from rtcsave.differences import save_changes
from rtcsave.errors import BadArgument, FileFault, number_of
from rtcsave.findings import examine
from rtcsave.layouts import Layout
from rtcsave.layouts.places import largest_memory
from rtcsave.savefile import Origin, SaveFile, loads
from rtcsave.storage.changes import Change

EXAMPLES = """\
Every register keeps its value, stray bits included where the words are alike.
What the other layout cannot hold is said, and refused unless you tell it to be
dropped.

--split writes the clock to a file of its own (in the layout of --to, if given:
also the bare register layouts) and leaves the memory image; --join puts it
after an image again; --attach puts a clock of zeros, stamped now, after a
bare image.

examples:
  rtcsave convert game.sav --to block44
  rtcsave convert game.sav --to block48-be -o other.sav
  rtcsave convert game.sav --split game.clock --to registers10 --drop-stamp
  rtcsave convert image.sav --join game.clock -o whole.sav
  rtcsave convert image.sav --attach block48
  rtcsave convert game.sav --strip -o image.sav
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("file", metavar="FILE", help="a save, or - for standard input")
    parser.add_argument(
        "--to", metavar="LAYOUT", help="the layout to have: a name, or a .toml file"
    )
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--split", metavar="CLOCKFILE", help="write the clock there, keep the image")
    how.add_argument(
        "--join",
        metavar="CLOCKFILE",
        help="put that clock after the image; --layout is then CLOCKFILE's",
    )
    how.add_argument("--attach", metavar="LAYOUT", help="put a clock of zeros after the image")
    how.add_argument("--strip", action="store_true", help="take the clock block off")
    parser.add_argument(
        "--drop-stamp", action="store_true", help="let a stamp go that does not fit"
    )
    parser.add_argument(
        "--drop-latched",
        action="store_true",
        help="let latched registers go that differ from the running ones, where only one of them fits",
    )
    parser.add_argument(
        "--drop-unknown",
        action="store_true",
        help="let bytes go that the old layout does not describe",
    )
    add_writing(parser)


def run(session: Session[Options]) -> int:
    """Convert one file."""
    args = session.args
    file = one_file(session.args.file)
    refuse_contradictions(session, [file])
    if not (args.to or args.split or args.join or args.attach or args.strip):
        raise BadArgument(
            "no conversion was named", remedy="give --to, --split, --join, --attach or --strip"
        )
    if args.to is not None and (args.attach or args.strip):
        raise BadArgument("--to goes alone, or with --split or --join")
    if any(dropping(session).values()) and args.to is None:
        raise BadArgument("--drop-stamp, --drop-latched and --drop-unknown go with --to")
    target = None if args.to is None else session.layout_of(args.to)
    return session.each([file], lambda path: _work(session, path, target))


def _work(session: Session[Options], path: str, target: Layout | None) -> int:
    args = session.args
    data, origin = session.read(path)
    save = _read_save(session, data, origin)
    others: tuple[Change, ...] = ()
    sheet = Sheet(f"{path}: {what_it_is(save)}")
    answers: dict[str, object] = {
        "path": path,
        "layout_before": None if save.block is None else save.block.layout.name,
    }
    if args.split is not None:
        after, clock_file = split(session, args.split, save, target, sheet, answers)
        others = (clock_file,)
    elif args.join is not None:
        after = join(session, args.join, save, target)
    elif args.attach is not None:
        after = attach(session, args.attach, save)
    elif target is not None:
        after = save.with_layout(target, **dropping(session))
        say_left_out(save.clock_block, after.clock_block, sheet)
    elif save.block is None and len(save.memory) < len(data):
        after = save
        sheet.add(
            "left out", f"{number_of(len(data) - len(save.memory), 'byte')} that are no clock block"
        )
    else:
        save.clock_block  # noqa: B018  # says so if there is none to take off
        after = save.without_block()
    sheet.add("becomes", what_it_is(after))
    for change in save_changes(save, after):
        sheet.add(change.field, f"{change.old} -> {change.new}")
    answers |= {
        "layout": None if after.block is None else after.block.layout.name,
        "memory_bytes": len(after.memory),
        "stamp": None if after.block is None else after.block.stamp,
    }
    finish_save(session, path, data, after, sheet, answers, others)
    return DONE


def _read_save(session: Session[Options], data: bytes, origin: Origin | None) -> SaveFile:
    """The save that is to be converted."""
    args = session.args
    if args.join is not None:  # --layout speaks of the clock's file then
        return replace(loads(data, None, session.also_layouts, session.now_s), origin=origin)
    if args.strip:
        return _with_any_tail(session, data, origin)
    return session.loads(data, origin)


def _with_any_tail(session: Session[Options], data: bytes, origin: Origin | None) -> SaveFile:
    """The save in some bytes; its memory alone where what follows that cannot be read as a block."""
    try:
        return session.loads(data, origin)
    except FileFault:
        seen = examine(data, session.layout, session.also_layouts, now=session.now_s)
        if not {finding.code for finding in seen.findings} & {
            "block-cut-short",
            "block-unreadable",
        }:
            raise
        return SaveFile(memory=data[: largest_memory(len(data))], origin=origin)
