"""`layouts`: the layouts that are known, and how to describe another."""

from __future__ import annotations

import argparse

from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.paths import STREAM
from rtcsave.cli.session import Session
from rtcsave.cli.words import clock_json
from rtcsave.clocks import Clock
from rtcsave.errors import BadArgument, DoesNotFit
from rtcsave.layouts import BUILT_IN, ClockBlock, Layout
from rtcsave.layouts.codec import codec
from rtcsave.layouts.description import describe
from rtcsave.layouts.schema import STARTING_POINT
from rtcsave.storage.described import layouts_folder
from rtcsave.storage.writing import write
from rtcsave.when import dated, rfc3339

EXAMPLES = """\
A description is a TOML file. Those in the folder that RTCSAVE_LAYOUTS names
(else 'layouts' in the config folder that your system has for this program) are
known by name everywhere.

examples:
  rtcsave layouts
  rtcsave layouts --new -o mine.toml
  rtcsave layouts --check mine.toml
  rtcsave show game.sav --layout mine.toml
"""


class Options(CommonOptions):
    """The command's own options, as they were typed."""

    check: str | None
    new: bool
    out: str | None
    overwrite: bool


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--check", metavar="FILE", help="check a description, and decode a sample")
    how.add_argument("--new", action="store_true", help="print a commented starting point")
    parser.add_argument("-o", "--out", metavar="OUT", help="with --new: write it to this file")
    parser.add_argument("--overwrite", action="store_true", help="OUT may exist")


def run(session: Session[Options]) -> int:
    """List, check or start."""
    args = session.args
    if args.out is not None and not args.new:
        raise BadArgument("-o goes with --new")
    if args.new:
        return session.guarded(args.out or STREAM, lambda: _new(session))
    description = args.check
    if description is not None:
        return session.guarded(description, lambda: _check(session, description))
    return _list(session)


def _new(session: Session[Options]) -> int:
    out = session.args.out
    if out in (None, STREAM):
        if session.args.json:
            session.console.object({"path": None, "description": STARTING_POINT})
        else:
            session.console.text(STARTING_POINT, end="")
    else:
        write(STARTING_POINT.encode("utf-8"), out, overwrite=session.args.overwrite)
        session.console.line(f"{out}: written; edit it, then: rtcsave layouts --check {out}")
        session.console.object({"path": out, "written": True})
    return DONE


def _check(session: Session[Options], path: str) -> int:
    layout = describe(session.read_text(path), source=path)
    block = _sample(layout, session.now_s)
    sheet = Sheet(f"{path}: layout {layout.name}, {layout.size:,} bytes, {layout.clock} clock")
    for at, field in enumerate(layout.fields):
        what = ", ".join(f"{bits.field}{' (decimal)' if bits.bcd else ''}" for bits in field.bits)
        if field.part == "constant":
            what = field.constant.hex(" ")
        end = field.end - 1
        where = f"byte {field.offset}" if field.size == 1 else f"bytes {field.offset} to {end}"
        sheet.add("" if at else "fields", f"{where}: {field.name} ({field.part}) {what}".rstrip())
    for at in range(0, layout.size, 16):
        sheet.add("" if at else "sample", f"{at:4d}  {block.raw[at : at + 16].hex(' ')}")
    sheet.add("reads", block.running.reading())
    if block.stamp is not None:
        sheet.add("stamp", f"{block.stamp} ({dated(block.saved_unix_s)})")
    session.console.sheet(sheet)
    session.console.object(
        {
            "path": path,
            **_as_json(layout),
            "sample": block.raw.hex(),
            "clock": clock_json(block.running),
            "stamp": block.stamp,
            "saved_at": rfc3339(block.saved_unix_s),
        }
    )
    return DONE


def _sample(layout: Layout, now_s: int) -> ClockBlock:
    """A block of this layout with some time in it, stamped now."""
    block = ClockBlock(layout=layout, raw=codec(layout).blank())
    time = {"day": 12, "hour": 3, "minute": 4, "second": 5}
    if layout.clock == "minutes":
        time["second"] = 0
    if layout.clock == "calendar":
        time |= {"year": 26, "month": 3, "day": 10}
        block = ClockBlock(layout=layout, raw=_first_day(layout, block))
    clock: Clock = block.running.with_time(time)
    for part in ("running", "latched"):
        if layout.part(part):  # what the layout cannot hold of it is left out of a sample
            block = ClockBlock(layout=layout, raw=codec(layout).put_clock(block.raw, part, clock))
    try:
        return block.with_stamp(now_s) if layout.stamp is not None else block
    except DoesNotFit:
        return block


def _first_day(layout: Layout, block: ClockBlock) -> bytes:
    """A calendar's block with a date that exists, so that a time can be put into it."""
    first = layout.clock_type.from_values(
        {**block.running.values(), "month": 1, "day": 1, "hours": 0, "twelve_hour": False}
    )
    return codec(layout).put_clock(block.raw, "running", first)


def _as_json(layout: Layout) -> dict[str, object]:
    return {
        "name": layout.name,
        "size": layout.size,
        "clock": layout.clock,
        "standalone": layout.standalone,
        "summary": layout.summary,
    }


def _list(session: Session[Options]) -> int:
    rows = []
    for layout in (*BUILT_IN, *session.also_layouts):
        where = "a file of its own" if layout.standalone else "after the memory, or alone"
        rows.append((layout.name, str(layout.size), layout.clock, layout.summary, where))
        session.console.object(_as_json(layout))
    session.console.table(("layout", "bytes", "clock", "what it holds", "where"), rows)
    session.console.line("")
    session.console.line(f"your own: .toml files in {layouts_folder()}; 'layouts --new' starts one")
    return DONE
