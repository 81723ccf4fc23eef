"""One run of the command: its files, its present, its layout, and how its errors become codes."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Final

from rtcsave.cli.console import Console, complain
from rtcsave.errors import BadArgument, Refused, RtcSaveError, TooLarge, WorldFailed
from rtcsave.layouts import Layout, layout_named
from rtcsave.savefile import Origin, SaveFile, loads
from rtcsave.storage.reading import read
from rtcsave.units import LARGEST_FILE_BYTES
from rtcsave.when import now_or, parse_instant, unix_seconds

STREAM: Final = "-"
_MAGIC: Final = frozenset("*?[")

DONE: Final = 0
FOUND: Final = 1
WRONG_USAGE: Final = 2
FAILED: Final = 3
REFUSED: Final = 4


def exit_code(error: RtcSaveError) -> int:
    """The exit code for an error: wrong usage, could not, or refused."""
    if isinstance(error, BadArgument):
        return WRONG_USAGE
    return REFUSED if isinstance(error, Refused) else FAILED


def expand(paths: Iterable[str]) -> list[str]:
    """The paths, patterns replaced by what they match; a name that exists is no pattern."""
    found: list[str] = []
    for path in paths:
        if path == STREAM or os.path.lexists(path) or not _MAGIC & set(path):
            found.append(path)
        else:
            import glob

            found.extend(sorted(glob.glob(path, recursive=True)) or [path])
    return found


class Session:
    """What every command works with."""

    def __init__(self, args: argparse.Namespace) -> None:
        self.args = args
        to_stream = getattr(args, "output", None) == STREAM
        if to_stream and args.json:
            raise BadArgument("--json and '-o -' both want standard output", remedy="leave one out")
        self.console = Console(as_json=args.json, only_errors=to_stream)
        self.now_s = now_or(None) if args.now is None else parse_instant(args.now)
        self.layout: Layout | None = None if args.layout is None else layout_named(args.layout)

    def instant(self, text: str) -> int:
        """The instant that was typed; `now` is the run's own present."""
        return parse_instant(text, self.now_s)

    def read(self, path: str) -> tuple[bytes, Origin | None]:
        """The bytes of a file, or of standard input, which has no origin."""
        if path != STREAM:
            return read(path)
        data = sys.stdin.buffer.read(LARGEST_FILE_BYTES + 1)
        if len(data) > LARGEST_FILE_BYTES:
            raise TooLarge(
                "standard input is too large for a save",
                expected=f"at most {LARGEST_FILE_BYTES} bytes",
            )
        return data, None

    def load(self, path: str) -> SaveFile:
        """The save in a file or on standard input, by the layout that was named, if any."""
        data, origin = self.read(path)
        return replace(loads(data, self.layout, now=self.now_s), origin=origin)

    def saved_at(self, origin: Origin | None, path: str) -> int | None:
        """What `--saved-at` says for one file, in Unix seconds."""
        text = self.args.saved_at
        if text is None:
            return None
        if text != "file-time":
            return self.instant(text)
        if origin is None:
            raise BadArgument(
                "there is no file whose time could be taken",
                found="standard input" if path == STREAM else path,
                remedy="say --saved-at with an instant",
            )
        return unix_seconds(origin.modified_at)

    def each(self, paths: Iterable[str], work: Callable[[str], int]) -> int:
        """Do the work for every path; one that fails does not stop the rest. The highest code."""
        worst = DONE
        for path in expand(paths):
            try:
                code = work(path)
            except RtcSaveError as error:
                code = self.failed(path, error)
            worst = max(worst, code)
        return worst

    def failed(self, path: str, error: RtcSaveError) -> int:
        """Report an error for one path; its exit code."""
        shown = str(error)
        if isinstance(error, WorldFailed) or error.where == path:
            shown = shown.replace(f", {path}", "", 1)
        self.console.object({"path": path, "error": type(error).__name__, "message": shown})
        sys.stdout.flush()
        complain(f"rtcsave: {'standard input' if path == STREAM else path}: {shown}")
        return exit_code(error)
