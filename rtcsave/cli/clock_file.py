"""The clock of a save and its own file: split off, joined, put on; what `convert` lets go."""

from __future__ import annotations

from dataclasses import replace

from rtcsave.cli.console import Sheet
from rtcsave.cli.given import WritingOptions
from rtcsave.cli.paths import STREAM, one_file
from rtcsave.cli.session import Session
from rtcsave.cli.words import what_it_is
from rtcsave.cli.writing import is_same_file
from rtcsave.errors import BadArgument, DoesNotFit, RtcSaveError
from rtcsave.layouts import ClockBlock, Layout
from rtcsave.layouts.codec import codec
from rtcsave.savefile import SaveFile, dumps, loads
from rtcsave.storage.changes import Change
from rtcsave.storage.dumping import times_to_keep_ns


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


def dropping(session: Session[Options]) -> dict[str, bool]:
    """What the user lets go, by the names of `with_layout`."""
    args = session.args
    return {
        "drop_stamp": args.drop_stamp,
        "drop_latched": args.drop_latched,
        "drop_unknown": args.drop_unknown,
    }


def say_left_out(before: ClockBlock, after: ClockBlock, sheet: Sheet) -> None:
    """Say which registers the new block does not hold."""
    if before.latched is not None and after.latched is None:
        sheet.add("left out", f"the latched registers: layout {after.layout.name} has none", "note")


def _clock_alone(save: SaveFile, session: Session[Options], target: Layout | None) -> SaveFile:
    """A save's clock as a standalone block, in another layout if one is wanted."""
    clock = replace(save, memory=b"", origin=None)
    return clock if target is None else clock.with_layout(target, **dropping(session))


def split(
    session: Session[Options],
    clock_file: str,
    save: SaveFile,
    target: Layout | None,
    sheet: Sheet,
    answers: dict[str, object],
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
    say_left_out(before, clock.clock_block, sheet)
    sheet.add("clock", f"{clock_file}: {what_it_is(clock)}")
    answers["clock_file"] = clock_file
    change = Change(
        data=dumps(clock),
        path=clock_file,
        overwrite=args.overwrite,
        backup=not args.no_backup,
        keep=args.keep,
        times_ns=times_to_keep_ns(clock),
    )
    return save.without_block(), change


def join(
    session: Session[Options], clock_file: str, save: SaveFile, target: Layout | None
) -> SaveFile:
    """An image with the clock of another file after it."""
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
    if block.usable_unix_s is None and clock_origin is not None:  # only its file's time says it
        block = block.carrying(clock_origin.modified_s)
    return save.with_block(block)


def attach(session: Session[Options], name: str, save: SaveFile) -> SaveFile:
    """An image with a clock of zeros after it, stamped now."""
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
