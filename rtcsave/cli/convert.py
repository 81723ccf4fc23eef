"""`convert`: the same clock in another layout, split off, joined, put on or taken off."""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import WritingOptions
from rtcsave.cli.parsing import add_writing
from rtcsave.cli.paths import STREAM, one_file
from rtcsave.cli.session import Session
from rtcsave.cli.words import what_it_is
from rtcsave.cli.writing import finish_save, is_same_file, refuse_contradictions
from rtcsave.differences import save_changes
from rtcsave.errors import BadArgument, DoesNotFit, FileFault, RtcSaveError, number_of
from rtcsave.findings import examine
from rtcsave.layouts import ClockBlock, Layout
from rtcsave.layouts.codec import codec
from rtcsave.layouts.places import largest_memory
from rtcsave.savefile import Origin, SaveFile, dumps, loads
from rtcsave.storage.dumping import time_to_keep_ns
from rtcsave.storage.writing import Change

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


@dataclass(frozen=True, kw_only=True)
class Options(WritingOptions):
    """The command's own options, as they were typed."""

    file: str
    to: str | None
    split: str | None
    join: str | None
    attach: str | None
    strip: bool
    drop_stamp: bool
    drop_latched: bool
    drop_unknown: bool


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
    if any(_dropping(session).values()) and args.to is None:
        raise BadArgument("--drop-stamp, --drop-latched and --drop-unknown go with --to")
    target = None if args.to is None else session.layout_of(args.to)
    return session.each([file], lambda path: _work(session, path, target))


def _dropping(session: Session[Options]) -> dict[str, bool]:
    """What the user lets go, by the names of `with_layout`."""
    args = session.args
    return {
        "drop_stamp": args.drop_stamp,
        "drop_latched": args.drop_latched,
        "drop_unknown": args.drop_unknown,
    }


def _work(session: Session[Options], path: str, target: Layout | None) -> int:
    args = session.args
    data, origin = session.read(path)
    save = _read_save(session, data, origin)
    others: tuple[Change, ...] = ()
    sheet = Sheet(f"{path}: {what_it_is(save)}")
    told: dict[str, object] = {
        "path": path,
        "layout_before": None if save.block is None else save.block.layout.name,
    }
    if args.split is not None:
        after, clock_file = _split(session, args.split, save, target, sheet, told)
        others = (clock_file,)
    elif args.join is not None:
        after = _join(session, args.join, save, target)
    elif args.attach is not None:
        after = _attach(session, args.attach, save)
    elif target is not None:
        after = save.with_layout(target, **_dropping(session))
        _say_left_out(save.clock_block, after.clock_block, sheet)
    elif save.block is None and len(save.memory) < len(data):
        after = save
        sheet.add(
            "left out", f"{number_of(len(data) - len(save.memory), 'byte')} that are no clock block"
        )
    else:
        save.clock_block  # noqa: B018  # says so if there is none to take off
        after = save.without_block()
    sheet.add("becomes", what_it_is(after))
    for one in save_changes(save, after):
        sheet.add(one.field, f"{one.old} -> {one.new}")
    told |= {
        "layout": None if after.block is None else after.block.layout.name,
        "memory_bytes": len(after.memory),
        "stamp": None if after.block is None else after.block.stamp,
    }
    finish_save(session, path, data, after, sheet, told, others)
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


def _say_left_out(before: ClockBlock, after: ClockBlock, sheet: Sheet) -> None:
    if before.latched is not None and after.latched is None:
        sheet.add("left out", f"the latched registers: {after.layout.name} holds none", "note")


def _clock_alone(save: SaveFile, session: Session[Options], target: Layout | None) -> SaveFile:
    """A save's clock as a standalone block, in another layout if one is wanted."""
    clock = replace(save, memory=b"", origin=None)
    return clock if target is None else clock.with_layout(target, **_dropping(session))


def _split(
    session: Session[Options],
    clock_file: str,
    save: SaveFile,
    target: Layout | None,
    sheet: Sheet,
    told: dict[str, object],
) -> tuple[SaveFile, Change]:
    """The image without its block, and the clock's own file, which is written as one with it."""
    args = session.args
    if clock_file == STREAM:
        raise BadArgument("the clock needs a file of its own", remedy="name it")
    output = args.output if args.output is not None else one_file(session.args.file)
    for other in (one_file(session.args.file), output):
        if other != STREAM and is_same_file(clock_file, other):
            raise BadArgument(
                "the clock needs a file of its own",
                found=f"{clock_file}, which is {other}",
                remedy="name another",
            )
    before = save.clock_block
    clock = _clock_alone(save, session, target)
    _say_left_out(before, clock.clock_block, sheet)
    sheet.add("clock", f"{clock_file}: {what_it_is(clock)}")
    told["clock_file"] = clock_file
    time_ns = time_to_keep_ns(clock)
    change = Change(
        data=dumps(clock),
        path=clock_file,
        overwrite=args.overwrite,
        backup=not args.no_backup,
        times_ns=None if time_ns is None else (time_ns, time_ns),
    )
    return save.without_block(), change


def _join(
    session: Session[Options], clock_file: str, save: SaveFile, target: Layout | None
) -> SaveFile:
    if save.block is not None:
        raise DoesNotFit(
            "the save has a clock block already",
            found=f"layout {save.block.layout.name}",
            remedy="take it off first (--strip), or split it off (--split)",
        )
    also = (*session.also_layouts, target) if target is not None else session.also_layouts
    data, clock_origin = session.read(clock_file)
    try:
        other = loads(data, session.layout, dict.fromkeys(also), session.now_s)
    except RtcSaveError as error:
        error.where = ", ".join(filter(None, (clock_file, error.where)))
        raise
    if other.memory:
        raise BadArgument(
            "a clock file holds a clock alone",
            where=clock_file,
            found=what_it_is(other),
            remedy="split its clock off first (--split)",
        )
    block = _clock_alone(other, session, target).clock_block
    if block.layout.standalone:
        raise DoesNotFit(
            f"layout {block.layout.name} is only ever a file of its own",
            remedy="say with --to which layout the clock is to have after the image",
        )
    joined = save.with_block(block)
    if (
        block.usable_unix_s is None and clock_origin is not None
    ):  # its file's time is all that says it
        joined = replace(joined, carried_s=clock_origin.modified_s)
    return joined


def _attach(session: Session[Options], name: str, save: SaveFile) -> SaveFile:
    layout = session.layout_of(name)
    if save.block is not None:
        raise DoesNotFit(
            "the save has a clock block already", found=f"layout {save.block.layout.name}"
        )
    if layout.standalone:
        raise DoesNotFit(
            f"layout {layout.name} is only ever a file of its own",
            remedy="choose one that stands after the memory",
        )
    block = ClockBlock(layout=layout, raw=codec(layout).blank())
    return save.with_block(block if layout.stamp is None else block.with_stamp(session.now_s))
