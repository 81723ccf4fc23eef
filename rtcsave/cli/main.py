"""The command itself: finds the subcommand, runs it, turns what happens into an exit code."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from types import ModuleType
from typing import Final

from rtcsave.cli.console import (
    OutputLost,
    complain,
    open_streams,
    output,
    ready_streams,
    silence_output,
)
from rtcsave.cli.options import in_options
from rtcsave.cli.parsing import Parser, add_common, join_signed, nearest
from rtcsave.cli.session import DONE, FAILED, WRONG_USAGE, Session, exit_code
from rtcsave.errors import RtcSaveError
from rtcsave.storage.system import system_failed
from rtcsave.units import VERSION

COMMANDS: Final = {
    "show": "show",
    "check": "check",
    "repair": "repair",
    "advance": "advance",
    "set": "set_fields",
    "correct": "correct",
    "convert": "convert",
    "restore": "restore",
    "diff": "diff",
    "verify": "verify",
    "elapsed": "elapsed",
    "drift": "drift",
    "forecast": "forecast",
    "remind": "remind",
    "sequence": "sequence",
    "layouts": "layouts_known",
}
"""Each command and the module that holds it; only the one that is asked for is loaded."""

_WHAT = (
    "Battery-backed clocks in the saves of 8-bit handheld cartridges: read, judge, count on, mend."
)
_INTERRUPTED: Final = 130


def _module(command: str) -> ModuleType:
    return import_module(f"rtcsave.cli.{COMMANDS[command]}")


def command_parser(command: str) -> Parser:
    """The parser of one command."""
    module = _module(command)
    parser = Parser(
        prog=f"rtcsave {command}",
        description=f"{module.ABOUT[0].upper()}{module.ABOUT[1:]}".rstrip("?") + ".",
        epilog=module.EXAMPLES,
    )
    module.arguments(parser)
    add_common(parser)
    return parser


def _overview() -> str:
    lines = [_WHAT, "", "usage: rtcsave COMMAND ... [--json] [--now INSTANT] [--layout NAME]", ""]
    width = max(map(len, COMMANDS))
    lines += [f"  {command:<{width}}  {_module(command).ABOUT}" for command in COMMANDS]
    lines += [
        "",
        "'rtcsave COMMAND --help' says more, with examples; 'rtcsave --version' names the version.",
        "exit codes: 0 done, 1 something was found, 2 wrong usage, 3 could not read or write,",
        "4 refused so as not to lose anything",
    ]
    return "\n".join(lines)


def _not_a_command(word: str) -> int:
    if word.startswith("-"):
        hint = "; options stand behind the command, as in 'rtcsave show FILE --json'"
        if word not in ("--json", "--now", "--layout"):
            hint = nearest(word, ("--help", "--version")) or hint
        complain(f"rtcsave: there is no option {word} before a command{hint}")
    elif os.path.lexists(word):
        complain(f"rtcsave: {word!r} is a file, not a command; did you mean: rtcsave show {word}")
    else:
        complain(
            f"rtcsave: there is no command {word!r}{nearest(word.lower(), COMMANDS)}; the commands "
            f"are {', '.join(COMMANDS)}"
        )
    return WRONG_USAGE


def run(words: Sequence[str]) -> int:
    """Run the command with these words; its exit code."""
    if not words:
        print(_overview(), file=sys.stderr)
        return WRONG_USAGE
    first = words[0]
    if first in ("-h", "--help", "help"):
        with output():
            if len(words) > 1 and words[1] in COMMANDS:
                command_parser(words[1]).print_help()
            else:
                print(_overview())
        return DONE
    if first in ("-V", "--version"):
        print(f"rtcsave {VERSION}")
        return DONE
    if first not in COMMANDS:
        return _not_a_command(first)
    args = command_parser(first).parse_args(join_signed(words[1:]))
    return _run_command(first, args)


def _run_command(command: str, args: argparse.Namespace) -> int:
    try:
        code: int = _module(command).run(Session(args))
    except RtcSaveError as error:
        complain(f"rtcsave {command}: {in_options(str(error))}")
        code = exit_code(error)
    with output():
        sys.stdout.flush()
    return code


def main(words: Sequence[str] | None = None) -> int:
    """Entry point: `words` are the arguments (None: those of the process)."""
    open_streams()
    ready_streams()
    try:
        return run(sys.argv[1:] if words is None else words)
    except SystemExit as done:  # the parser's own way out, after its help or its complaint
        return done.code if isinstance(done.code, int) else WRONG_USAGE
    except OutputLost as lost:
        silence_output()
        if isinstance(lost.error, BrokenPipeError):
            return DONE
        complain(f"rtcsave: {system_failed(lost.error, 'the output cannot be written', '').what}")
        return FAILED
    except OSError as error:
        silence_output()
        complain(f"rtcsave: {system_failed(error, 'the system refused', '').what}")
        return FAILED
    except KeyboardInterrupt:
        return _INTERRUPTED


def entry() -> None:
    """The console script."""
    sys.exit(main())
