"""Arguments: the options every command shares, and errors that name the nearest right word."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Iterable, Sequence
from itertools import groupby
from typing import Any, NoReturn

from rtcsave.cli.codes import WrongUsage
from rtcsave.cli.console import folded, terminal_columns
from rtcsave.cli.options import in_options
from rtcsave.errors import RtcSaveError

_SIGNED_OPTIONS = frozenset({"--by", "--rate-ppm"})
_NEGATIVE = r"-[0-9Pp.]"


def nearest(word: str, known: Iterable[str]) -> str:
    """`; did you mean X?` for the nearest known word, or nothing."""
    from difflib import get_close_matches

    near = get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"; did you mean {near[0]}?" if near else ""


def _formatter(prog: str) -> argparse.HelpFormatter:
    """Help as wide as the terminal, 100 characters at most, its examples left as they are."""
    return _Formatter(prog, width=terminal_columns() - 2)


class _Formatter(argparse.RawDescriptionHelpFormatter):
    """Help whose paragraphs and examples are folded where they are wider than the terminal."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        lines: list[str] = []
        for is_set, group in groupby(text.splitlines(), lambda line: line[:1] in ("", " ")):
            # examples and empty lines are set as they are; lines of a paragraph are one
            for line in group if is_set else (" ".join(group),):
                own = " " * (len(line) - len(line.lstrip()) + 4) if is_set else ""
                lines += folded(indent + line, width, indent + own)
        return "\n".join(lines)


class Parser(argparse.ArgumentParser):
    """A parser whose complaints name the nearest option, and whose help keeps its examples."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(formatter_class=_formatter, allow_abbrev=False, **settings)
        self._words: list[str] = []

    def format_help(self) -> str:
        """The help, each line folded that is wider than the terminal (as a long usage is)."""
        columns = terminal_columns()
        lines: list[str] = []
        for line in super().format_help().splitlines():
            lines += folded(line, columns, " " * (len(line) - len(line.lstrip()) + 4))
        return "\n".join(lines) + "\n"

    def parse_args(  # type: ignore[override]  # the base's overloads are for other namespaces
        self, args: Sequence[str] | None = None, namespace: argparse.Namespace | None = None
    ) -> argparse.Namespace:
        """Parse everything; what is left over is an error that names the nearest option."""
        self._words = list(args or ())
        options, rest = self.parse_known_args(args, namespace)
        assert options is not None
        for action in self._actions:
            # argparse before Python 3.13 makes an empty list of the value "--"
            if (
                action.option_strings
                and action.nargs is None
                and getattr(options, action.dest, 0) in ([], "--")
            ):
                self.error(f"argument {'/'.join(action.option_strings)}: expected one argument")
        for word in rest:
            if word.startswith("-") and len(word) > 1:
                option = word.partition("=")[0]
                self.error(f"there is no option {option}{nearest(option, self.options())}")
        if rest:
            self.error(f"one argument too many: {rest[0]!r}")
        return options

    def options(self) -> list[str]:
        """Every option that this parser knows."""
        return [option for action in self._actions for option in action.option_strings]

    def error(self, message: str) -> NoReturn:
        """Raise `WrongUsage`; report an unknown option before a missing one."""
        if message.startswith("the following arguments are required"):
            for word in self._words:
                option = word.partition("=")[0]
                if word == "--":
                    break
                if option.startswith("--") and option not in self.options():
                    message = f"there is no option {option}{nearest(option, self.options())}"
                    break
        raise WrongUsage(message)


class one_of:  # noqa: N801  # it reads as a call
    """A type for an argument that must be one of some words; the error names the nearest."""

    def __init__(self, *words: str) -> None:
        self.words = words

    def __call__(self, text: str) -> str:
        """The word, in small letters."""
        if text.lower() in self.words:
            return text.lower()
        raise argparse.ArgumentTypeError(
            f"{text!r} is none of {', '.join(self.words)}{nearest(text.lower(), self.words)}"
        )


def typed(parse: Callable[[str], Any]) -> Callable[[str], Any]:
    """A type for an argument that the library reads; its error becomes the parser's."""

    def take(text: str) -> Any:
        try:
            return parse(text)
        except RtcSaveError as error:
            raise argparse.ArgumentTypeError(in_options(str(error))) from None
        except ValueError:  # of int and float
            kind = "whole number" if parse is int else "number"
            raise argparse.ArgumentTypeError(f"{text!r} is no {kind}") from None

    return take


def join_signed(words: Sequence[str]) -> list[str]:
    """Join an option that takes a sign with a negative value after it: `--by -5m`.

    Without that the parser would take the value for an option.
    """
    joined: list[str] = []
    rest = iter(words)
    for word in rest:
        if word in _SIGNED_OPTIONS:
            value = next(rest, None)
            if value is None:
                joined.append(word)
            elif re.match(_NEGATIVE, value):
                joined.append(f"{word}={value}")
            else:
                joined += [word, value]
        else:
            joined.append(word)
            if word == "--":
                joined.extend(rest)
    return joined


def add_common(parser: argparse.ArgumentParser) -> None:
    """The options of every command."""
    group = parser.add_argument_group("every command")
    group.add_argument("--json", action="store_true", help="one JSON object a line, nothing else")
    group.add_argument(
        "--now", metavar="INSTANT", help="take this instant for the present (default: now)"
    )
    group.add_argument(
        "--layout",
        metavar="NAME|FILE",
        help="take the clock block to be in this layout, however odd: a name (see 'rtcsave "
        "layouts') or a .toml file that describes it",
    )


def add_writing(parser: argparse.ArgumentParser) -> None:
    """The options of every command that writes."""
    group = parser.add_argument_group(
        "writing",
        "A new file is written in the same folder. It then replaces the old one in one step,\n"
        "after a backup NAME.<instant>.bak. If another program wrote the file meanwhile,\n"
        "nothing is written (exit code 4). A change in that last instant is not noticed.\n"
        "'-o FILE' with the same FILE does the same.",
    )
    group.add_argument(
        "-o", "--output", metavar="OUT", help="write there instead (- : standard output)"
    )
    group.add_argument(
        "--overwrite", action="store_true", help="OUT may exist; it is backed up first"
    )
    group.add_argument(
        "--dry-run", action="store_true", help="only show what would change, byte by byte"
    )
    group.add_argument("--no-backup", action="store_true", help="keep no copy of what is replaced")
    group.add_argument(
        "--keep",
        type=typed(int),
        metavar="N",
        help="keep only the newest N backups of the file (default: all)",
    )
