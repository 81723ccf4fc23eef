"""`convert`: the same clock in another layout, or the image without it."""

from __future__ import annotations

import argparse

from rtcsave.cli.console import Sheet
from rtcsave.cli.parsing import add_writing
from rtcsave.cli.session import DONE, Session
from rtcsave.cli.words import what_it_is
from rtcsave.cli.writing import finish, refuse_contradictions
from rtcsave.differences import save_changes
from rtcsave.errors import BadArgument
from rtcsave.layouts import layout_named
from rtcsave.savefile import dumps

ABOUT = "put the clock into another layout, or take it off"
EXAMPLES = """\
Every register keeps its value, stray bits included. What the other layout
cannot hold is said, and refused unless you tell it to be dropped.

examples:
  rtcsave convert game.sav --to block44
  rtcsave convert game.sav --to block48-be -o other.sav
  rtcsave convert game.sav --strip -o image.sav
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("file", metavar="FILE", help="a save, or - for standard input")
    how = parser.add_mutually_exclusive_group(required=True)
    how.add_argument("--to", metavar="LAYOUT", help="the layout to have (see 'rtcsave layouts')")
    how.add_argument("--strip", action="store_true", help="take the clock block off")
    parser.add_argument(
        "--drop-stamp", action="store_true", help="let a stamp go that does not fit"
    )
    parser.add_argument(
        "--drop-latched",
        action="store_true",
        help="let latched registers go that differ from the running ones, where there is no room",
    )
    add_writing(parser)


def run(session: Session) -> int:
    """Convert one file."""
    args = session.args
    file = session.one_file
    refuse_contradictions(session, [file])
    target = None if args.to is None else layout_named(args.to)
    if (args.drop_stamp or args.drop_latched) and target is None:
        raise BadArgument("--drop-stamp and --drop-latched go with --to")

    def work(path: str) -> int:
        save = session.load(path)
        if target is None:
            save.clock_block  # noqa: B018  # says so if there is none to take off
            after = save.without_block()
        else:
            after = save.with_layout(target, args.drop_stamp, args.drop_latched)
        sheet = Sheet(f"{path}: {what_it_is(save)}")
        sheet.add("becomes", what_it_is(after))
        for one in save_changes(save, after):
            sheet.add(one.field, f"{one.old} -> {one.new}")
        if (
            target is not None
            and save.clock_block.latched is not None
            and (after.clock_block.latched is None)
        ):
            sheet.add("left out", f"the latched registers: {target.name} holds none", "note")
        told = {
            "path": path,
            "layout": None if after.block is None else after.block.layout.name,
            "layout_before": save.clock_block.layout.name,
            "memory_bytes": len(after.memory),
            "stamp": None if after.block is None else after.block.stamp,
        }
        finish(session, path, dumps(save), after, save.origin, sheet, told)
        return DONE

    return session.each([file], work)
