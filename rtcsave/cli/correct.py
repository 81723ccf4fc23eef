"""`correct`: undo drift or a zone change, in the words of who sees the wrong time."""

from __future__ import annotations

import argparse

from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import WritingOptions
from rtcsave.cli.parsing import add_writing, typed
from rtcsave.cli.paths import one_file
from rtcsave.cli.session import Session
from rtcsave.cli.words import clock_json, what_it_is
from rtcsave.cli.writing import finish_save, refuse_contradictions
from rtcsave.corrections import correct, rate_shift, recount, shift_between, zone_shift
from rtcsave.errors import BadArgument
from rtcsave.savefile import SaveFile, dumps
from rtcsave.when import dated, fixed_offset_words, parse_duration, rfc3339, say_span

EXAMPLES = """\
Only the running registers move; the stamp stays, so advancing later does not
undo it. A game adds a fixed offset of its own to the registers, so the time it
shows moves by exactly this shift.

examples:
  rtcsave correct game.sav --shown 13:52 --true 14:05
  rtcsave correct game.sav --shown "Tue 23:50" --true "Wed 00:10"
  rtcsave correct game.sav --by -90s
  rtcsave correct game.sav --rezone Europe/Lisbon Asia/Tokyo
  rtcsave correct game.sav --rate-ppm 18.2 --from 2026-01-01T00:00:00Z
  rtcsave correct stopped.sav --earlier before.sav --to now
"""


class Options(WritingOptions):
    """The command's own options, as they were typed."""

    file: str
    by: str | None
    shown: str | None
    true: str | None
    earlier: str | None
    to: str | None
    rate_ppm: float | None
    since: str | None
    rezone: list[str] | None
    allow_overflow: bool
    different_memory: bool


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("file", metavar="FILE", help="a save, or - for standard input")
    parser.add_argument("--by", metavar="DURATION", help="forward, or back with a minus: -90s, 1h")
    parser.add_argument("--shown", metavar="TIME", help='what the game shows: 13:52, "Tue 23:50"')
    parser.add_argument("--true", metavar="TIME", help="what it should show then")
    parser.add_argument(
        "--earlier", metavar="SAVE", help="an earlier save whose clock was right, advanced"
    )
    parser.add_argument(
        "--to", metavar="INSTANT", help="with --earlier: right for then (default: the stamp)"
    )
    parser.add_argument(
        "--rate-ppm", metavar="P", type=typed(float), help="a known rate; positive = runs fast"
    )
    parser.add_argument(
        "--from", dest="since", metavar="INSTANT", help="with --rate-ppm: since when it ran so"
    )
    parser.add_argument(
        "--rezone",
        nargs=2,
        metavar=("FROM", "TO"),
        help="from one IANA zone's time to another's, at --now",
    )
    parser.add_argument(
        "--allow-overflow",
        action="store_true",
        help="let the counter overflow past either end (forward sets carry)",
    )
    parser.add_argument(
        "--different-memory",
        action="store_true",
        help="with --earlier: its memory may have nothing in common with FILE's",
    )
    add_writing(parser)


def run(session: Session[Options]) -> int:
    """Correct one file."""
    args = session.args
    file = one_file(session.args.file)
    refuse_contradictions(session, [file])
    _refuse_mixtures(session)

    def work(path: str) -> int:
        save = session.load(path)
        sheet = Sheet(f"{path}: {what_it_is(save)}")
        answers: dict[str, object] = {"path": path}
        if args.earlier is not None:
            to_s = None if args.to is None else session.instant(args.to)
            earlier = session.load(args.earlier)
            after = recount(save, earlier, to_s, different_memory=args.different_memory)
            sheet.add("recounted", f"from {args.earlier}, to {_stamped(after)}")
        else:
            answers["by_s"] = by_s = _add_shift(session, sheet, save)
            after = correct(save, by_s, allow_overflow=args.allow_overflow)
        before, running = save.clock_block.running, after.clock_block.running
        sheet.add("clock", f"{before.reading()} -> {running.reading()}")
        if running.halted != before.halted or (before.carried and not running.carried):
            flags = f"halt {'on' if running.halted else 'off'}, carry "
            sheet.add("flags", f"{flags}{'on' if running.carried else 'off'}", "warning")
        if running.carried and not before.carried:
            sheet.add("overflow", "the counter overflows: carry is set", "warning")
        answers |= {
            "clock": clock_json(running),
            "clock_before": clock_json(before),
            "stamp": after.clock_block.stamp,
            "saved_at": rfc3339(after.clock_block.saved_unix_s),
        }
        finish_save(session, path, dumps(save), after, sheet, answers)
        return DONE

    return session.each([file], work)


def _add_shift(session: Session[Options], sheet: Sheet, save: SaveFile) -> int:
    """The shift that was asked for, with the lines that say why and what the zones' names mean."""
    by_s, why = _shift(session, save)
    sheet.add("shift", f"{say_span(by_s, signed=True)}: {why}")
    for zone in session.args.rezone or ():
        meaning = fixed_offset_words(zone, session.now_s)
        if meaning is not None:
            sheet.add("zone", meaning, "warning")
    return by_s


def _stamped(save: SaveFile) -> str:
    return dated(save.clock_block.saved_unix_s) or "no stamp"


def _refuse_mixtures(session: Session[Options]) -> None:
    args = session.args
    ways = {
        "--by": args.by is not None,
        "--shown and --true": args.shown is not None or args.true is not None,
        "--earlier": args.earlier is not None,
        "--rate-ppm and --from": args.rate_ppm is not None or args.since is not None,
        "--rezone": args.rezone is not None,
    }
    named = [way for way, given in ways.items() if given]
    if len(named) != 1:
        raise BadArgument(
            "say in exactly one way what is to be corrected",
            found=" and ".join(named) or "none",
            expected=", ".join(ways),
        )
    if (args.shown is None) != (args.true is None):
        raise BadArgument("--shown and --true go together")
    if (args.rate_ppm is None) != (args.since is None):
        raise BadArgument("--rate-ppm and --from go together")
    if args.to is not None and args.earlier is None:
        raise BadArgument("--to goes with --earlier")
    if args.different_memory and args.earlier is None:
        raise BadArgument("--different-memory goes with --earlier")


def _shift(session: Session[Options], save: SaveFile) -> tuple[int, str]:
    """The shift that was asked for, and why it is that."""
    args = session.args
    if args.by is not None:
        return parse_duration(args.by), "as given"
    if args.shown is not None and args.true is not None:
        by_s = shift_between(args.shown, args.true)
        return by_s, f"the shortest that turns {args.shown} into {args.true}"
    if args.rezone is not None:
        from_zone, to_zone = args.rezone
        by_s = zone_shift(from_zone, to_zone, session.now_s)
        return by_s, (
            f"the offset of {to_zone} less that of {from_zone}, at {dated(session.now_s)}"
        )
    assert args.since is not None
    assert args.rate_ppm is not None
    since_s = session.instant(args.since)
    by_s = rate_shift(save, args.rate_ppm, since_s)
    return by_s, f"undoes {args.rate_ppm:+g} ppm from {dated(since_s)} to {_stamped(save)}"
