"""The command itself: finds the subcommand, runs it, turns what happens into an exit code."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from types import ModuleType

from rtcsave.cli.codes import (
    DONE,
    FAILED,
    INTERRUPTED,
    WRONG_USAGE,
    WrongUsage,
    error_json,
    exit_code,
)
from rtcsave.cli.console import (
    Console,
    OutputLost,
    complain,
    folded,
    open_streams,
    output,
    ready_streams,
    silence_output,
    terminal_columns,
)
from rtcsave.errors import RtcSaveError
from rtcsave.units import VERSION

TYPE_CHECKING = False
if TYPE_CHECKING:  # help needs no types, and they take a fifth of a start
    from typing import Final

    from rtcsave.cli.parsing import Parser


class Command:
    """A command: the module that holds it, loaded only when it is asked for, and what it does."""

    def __init__(self, module: str, about: str) -> None:
        self.module = module
        self.about = about


COMMANDS: Final = {
    "show": Command("show", "what the clock says, what it would say now, when it was stamped"),
    "check": Command(
        "check", "what is wrong with a save, or worth knowing, and what to do about it"
    ),
    "repair": Command("repair", "repair what is certain, keep a backup; more when it is named"),
    "advance": Command(
        "advance", "advance the clock, as the chip would: to now, an instant, by a span"
    ),
    "set": Command("set_fields", "set the running time, halt, carry or the stamp to given values"),
    "correct": Command(
        "correct", "set the clock right: by a shift, two times, a rate, a change of zone"
    ),
    "convert": Command(
        "convert", "put the clock into another layout; split, join, attach or strip it"
    ),
    "restore": Command("restore", "put the newest backup back in place of the file"),
    "diff": Command("diff", "what differs between two saves, field by field and byte by byte"),
    "verify": Command(
        "verify", "after a restore, a transfer or a cell swap: is everything as it should be?"
    ),
    "elapsed": Command("elapsed", "real time between two saves, and why two accounts of it differ"),
    "drift": Command("drift", "how fast a crystal runs, in ppm, and how certain that is"),
    "survey": Command("survey", "every save in folders: what needs a person first"),
    "history": Command("history", "dumps of one cartridge over time, and its drift so far"),
    "forecast": Command(
        "forecast", "when the day counter overflows next, and how long the cell lasts"
    ),
    "remind": Command("remind", "a calendar file with an entry before the counter overflows"),
    "sequence": Command("sequence", "the register accesses that put this clock on a cartridge"),
    "completions": Command("completions", "what your shell needs to complete commands and options"),
    "layouts": Command("layouts_known", "the layouts that are known, and how to describe another"),
}
"""Every command, in the order in which they are named."""

_LAST_LINES: Final = (
    "'rtcsave COMMAND --help' says more, with examples; 'rtcsave --version' names the version.",
    "exit codes: 0 done, 1 something was found, 2 wrong usage, 3 could not read or write, 4 refused so",
    "as not to lose anything",
)
_WHAT: Final = "Battery-backed clocks in the saves of 8-bit handheld cartridges."


def module_of(command: str) -> ModuleType:
    """The module of a command, loaded."""
    return import_module(f"rtcsave.cli.{COMMANDS[command].module}")


def command_parser(command: str) -> Parser:
    """The parser of one command."""
    from rtcsave.cli.parsing import Parser, add_common

    module, about = module_of(command), COMMANDS[command].about
    parser = Parser(
        prog=f"rtcsave {command}",
        description=f"{about[0].upper()}{about[1:]}".rstrip("?") + ".",
        epilog=module.EXAMPLES,
    )
    module.arguments(parser)
    add_common(parser)
    return parser


def _overview() -> str:
    longest = max(map(len, COMMANDS))
    lines = [_WHAT, "", "usage: rtcsave COMMAND ... [--json] [--now INSTANT] [--layout NAME]", ""]
    lines += [f"  {name:<{longest}}  {command.about}" for name, command in COMMANDS.items()]
    lines += ["", *_LAST_LINES]
    columns = terminal_columns()
    is_shown = "COLUMNS" in os.environ or sys.stdout.isatty()
    if is_shown:
        hanging = " " * (longest + 4)
        lines = [
            part
            for line in lines
            for part in folded(line, columns, hanging if line.startswith("  ") else "")
        ]
    return "\n".join(lines)


def _not_a_command(word: str) -> WrongUsage:
    from rtcsave.cli.parsing import nearest

    if word.startswith("-"):
        hint = "; options stand after the command, as in 'rtcsave show FILE --json'"
        if word not in ("--json", "--now", "--layout"):
            hint = nearest(word, ("--help", "--version")) or hint
        return WrongUsage(f"there is no option {word} before a command{hint}")
    if os.path.lexists(word):
        return WrongUsage(f"{word!r} is a file, not a command; did you mean: rtcsave show {word}")
    near = nearest(word.lower(), COMMANDS)
    return WrongUsage(f"there is no command {word!r}{near}; the commands are {', '.join(COMMANDS)}")


def _help(words: Sequence[str]) -> int:
    with output():
        if words and words[0] in COMMANDS:
            command_parser(words[0]).print_help()
        else:
            print(_overview())
    return DONE


def run(words: Sequence[str]) -> int:
    """Run the command with these words; its exit code."""
    if not words:
        print(_overview(), file=sys.stderr)
        return WRONG_USAGE
    first = words[0]
    if first in ("-h", "--help", "help"):
        return _help(words[1:])
    if first in ("-V", "--version"):
        with output():
            print(f"rtcsave {VERSION}")
        return DONE
    try:
        if first not in COMMANDS:
            raise _not_a_command(first)
        code = _run_command(first, words[1:])
    except RtcSaveError as error:
        code = _told("--json" in words, first, error)
    with output():
        sys.stdout.flush()
    return code


def _run_command(command: str, words: Sequence[str]) -> int:
    from rtcsave.cli.given import given
    from rtcsave.cli.parsing import join_signed
    from rtcsave.cli.session import Session

    module = module_of(command)
    options = given(module.Options, command_parser(command).parse_args(join_signed(words)))
    code: int = module.run(Session(options))
    return code


def _told(as_json: bool, command: str, error: RtcSaveError) -> int:
    """Report the error that stopped a command, as JSON too if asked for; return its exit code."""
    from rtcsave.cli.options import in_options

    message = in_options(str(error))
    if isinstance(error, WrongUsage) and command in COMMANDS:
        message += f"; see 'rtcsave {command} --help'"
    if as_json:
        Console(as_json=True).object(error_json(None, error, message))
    complain(f"rtcsave {command}: {message}" if command in COMMANDS else f"rtcsave: {message}")
    return exit_code(error)


def main(words: Sequence[str] | None = None) -> int:
    """Entry point: `words` are the arguments (None: those of the process)."""
    open_streams()
    ready_streams()
    try:
        return run(sys.argv[1:] if words is None else words)
    except SystemExit as done:  # the parser's own way out, after its help
        return done.code if isinstance(done.code, int) else WRONG_USAGE
    except OutputLost as lost:
        silence_output()
        if isinstance(lost.error, BrokenPipeError):
            return DONE
        return _system_failed(lost.error, "the output cannot be written")
    except OSError as error:
        silence_output()
        return _system_failed(error, "the system refused")
    except KeyboardInterrupt:
        complain("stopped: not all was done; what was written is whole")
        return INTERRUPTED


def _system_failed(error: OSError, doing: str) -> int:
    from rtcsave.storage.system import system_failed

    complain(f"rtcsave: {system_failed(error, doing, '').what}")
    return FAILED


def entry() -> None:
    """The console script: a process of its own."""
    gc.set_threshold(50_000, 20, 20)  # most commands are over before a collection would pay
    sys.exit(main())
