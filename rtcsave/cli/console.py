"""Where the output goes: plain lines into pipes, tables and colour on a terminal (rich)."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Generator, Iterable, Mapping, Sequence

from rtcsave.errors import escaped

TYPE_CHECKING = False
if TYPE_CHECKING:  # help needs no types, and they take a fifth of a start
    from typing import Any, TextIO


class OutputLost(Exception):
    """Standard output (or its replacement) could not be written; `error` says why."""

    def __init__(self, error: OSError) -> None:
        super().__init__(str(error))
        self.error = error


@contextlib.contextmanager
def output() -> Generator[None, None, None]:
    """Make `OutputLost` of what goes wrong while something is printed."""
    try:
        yield
    except OSError as error:
        raise OutputLost(error) from error


_STYLES = {
    "": "",
    "title": "bold",
    "good": "green",
    "dim": "dim",
    "note": "cyan",
    "warning": "yellow",
    "error": "bold red",
    "running": "green",
    "latched": "cyan",
    "stamp": "magenta",
}


MOST_NAMED = 3
"""So many names of files stand in one line for all of them."""

_PLENTY = 200
"""A line that goes into a pipe or a file is never too long."""


class Sheet:
    """A titled list of labelled lines: what one file has to say."""

    def __init__(self, title: str) -> None:
        self.title = title
        self.rows: list[tuple[str, str, str]] = []

    def add(self, label: str, text: str, tone: str = "") -> None:
        """Add a line; an empty label continues the one above."""
        self.rows.append((label, text, tone))


class Console:
    """Standard output and standard error, as they are: a terminal or not, UTF-8 or not."""

    def __init__(self, as_json: bool, only_errors: bool = False) -> None:
        self.as_json = as_json
        self._out: TextIO = sys.stderr if only_errors else sys.stdout
        self._terminal = not as_json and self._out.isatty()
        self._printed = False

    @property
    def width(self) -> int:
        """How many characters a line has: the terminal's, or plenty where there is none."""
        width: int = self._rich().width if self._terminal else _PLENTY
        return width

    def can_show(self, characters: str) -> bool:
        """Whether the output's encoding has these characters."""
        try:
            characters.encode(self._out.encoding or "ascii")
        except (UnicodeEncodeError, LookupError):
            return False
        return True

    def object(self, value: Mapping[str, Any]) -> None:
        """Print one JSON object on a line of its own, if JSON was asked for."""
        if self.as_json:
            import json

            self.text(json.dumps(value))

    def text(self, text: str, end: str = "\n") -> None:
        """Print a text of our own as it is."""
        with output():
            print(text, end=end, file=self._out)

    def sheet(self, sheet: Sheet) -> None:
        """Print a sheet, unless JSON was asked for."""
        if self.as_json:
            return
        if self._printed:
            self.text("")
        self._printed = True
        if self._terminal:
            with output():
                self._rich_sheet(sheet)
            return
        self.text(escaped(sheet.title))
        width = max((len(escaped(label)) for label, _, _ in sheet.rows), default=0)
        for label, text, _ in sheet.rows:
            self.text(f"  {escaped(label):<{width}}  {escaped(text)}".rstrip())

    def _rich_sheet(self, sheet: Sheet) -> None:
        from rich.padding import Padding
        from rich.table import Table
        from rich.text import Text

        grid = Table.grid(padding=(0, 2), expand=False)
        grid.add_column(no_wrap=True, style="dim")
        grid.add_column(overflow="fold")
        for label, text, tone in sheet.rows:
            words = escaped(text)
            indent = len(words) - len(words.lstrip())  # kept where a line is folded
            shown = Padding(Text(words.lstrip(), style=_STYLES[tone]), (0, 0, 0, indent))
            grid.add_row(Text(escaped(label)), shown)
        rich = self._rich()
        rich.print(Text(escaped(sheet.title), style=_STYLES["title"]))
        rich.print(Padding(grid, (0, 0, 0, 2)))

    def _rich(self) -> Any:
        from rich.console import Console as Rich

        return Rich(file=self._out, highlight=False, soft_wrap=False)

    def table(self, headers: Sequence[str], rows: Iterable[Sequence[str]], tone: str = "") -> None:
        """Print a table, unless JSON was asked for."""
        if self.as_json:
            return
        shown = [[escaped(cell) for cell in row] for row in rows]
        widths = [max(len(row[i]) for row in (list(headers), *shown)) for i in range(len(headers))]
        if self._terminal and sum(widths) + 2 * len(widths) > self._rich().width:
            self._records(headers, shown, tone)
            return
        if self._terminal:
            from rich.table import Table
            from rich.text import Text

            table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
            for at, header in enumerate(headers):
                table.add_column(header, overflow="fold", no_wrap=not at)
            for row in shown:
                table.add_row(*(Text(cell, style=_STYLES[tone]) for cell in row))
            with output():
                self._rich().print(table)
            return
        for row in (list(headers), *shown):
            line = "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True))
            self.text(line.rstrip())

    def _records(
        self, headers: Sequence[str], rows: Iterable[Sequence[str]], tone: str = ""
    ) -> None:
        """Print the rows of a table that is too wide for the terminal, a line for each cell."""
        for row in rows:
            sheet = Sheet(f"{headers[0]} {row[0]}")
            for header, cell in zip(headers[1:], row[1:], strict=True):
                if cell:
                    sheet.add(header, cell, tone)
            with output():
                self._rich_sheet(sheet)

    def line(self, text: str) -> None:
        """Print a plain line, unless JSON was asked for."""
        if self._terminal:
            from rich.text import Text

            with output():
                self._rich().print(Text(escaped(text)), overflow="fold")
        elif not self.as_json:
            self.text(escaped(text))


def first_few(names: Sequence[str], count: int | None = None) -> str:
    """The first names of `count` in words (None: of all that are given), and whether there are more."""
    shown = names[:MOST_NAMED]
    more = (len(names) if count is None else count) > len(shown)
    return ", ".join((*shown, "...") if more else shown)


def terminal_columns() -> int:
    """How wide help is: as the terminal, 40 to 100 characters; 80 where there is none."""
    try:
        columns = int(os.environ.get("COLUMNS", "")) or os.get_terminal_size().columns
    except (ValueError, OSError):
        columns = 80
    return max(40, min(columns, 100))


def folded(line: str, columns: int, hanging: str) -> list[str]:
    """A line of help in as many as it needs, those after the first begun with `hanging`."""
    if len(line) <= columns:
        return [line]
    from textwrap import wrap

    return wrap(line, columns, subsequent_indent=hanging)


def complain(text: str) -> None:
    """Print a line on standard error, with the name of the command before it."""
    said = escaped(text)
    print(said if said.startswith("rtcsave") else f"rtcsave: {said}", file=sys.stderr)


def ready_streams() -> None:
    """Let no character that a terminal lacks stop an output: it is written as an escape."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


_closed: set[str] = set()


def output_is_closed() -> bool:
    """Whether the process was started without a standard output."""
    return "stdout" in _closed


def open_streams() -> None:
    """Give outputs that discard everything to a process that was started without outputs."""
    _closed.clear()
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            _closed.add(name)
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115


def silence_output() -> None:
    """Discard what is still to be flushed: the reader of the pipe has gone."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, sys.stdout.fileno())
    except (OSError, ValueError):  # a stream without a descriptor has nothing left to flush
        pass
    finally:
        os.close(nowhere)
