"""`completions`: what a shell needs to complete the commands, options, files, layouts and findings."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from typing import Any, Final

from rtcsave.cli.codes import DONE
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.parsing import add_common, one_of
from rtcsave.cli.session import Session
from rtcsave.errors import SystemFailed
from rtcsave.findings import FINDINGS
from rtcsave.layouts import LAYOUTS

SHELLS: Final = ("bash", "zsh", "fish", "powershell")

EXAMPLES = """\
Put what is printed where your shell looks for completions. Commands, options,
files, the built-in layouts and the codes of findings are completed. Layouts of
your own folder are not: the text does not change when you add one.

examples:
  rtcsave completions bash > ~/.local/share/bash-completion/completions/rtcsave
  rtcsave completions zsh > ~/.zfunc/_rtcsave
  rtcsave completions fish > ~/.config/fish/completions/rtcsave.fish
  rtcsave completions powershell >> $PROFILE
"""

_FILES: Final = ("FILE", "SAVE", "BEFORE", "AFTER", "EARLIER", "LATER", "A", "B", "OUT")
_WORDS: Final = {"NAME|FILE": LAYOUTS, "LAYOUT": LAYOUTS, "CODE": FINDINGS}


class Options(CommonOptions):
    """The command's own options, as they were typed."""

    shell: str


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("shell", type=one_of(*SHELLS), metavar="SHELL", help=", ".join(SHELLS))


def run(session: Session[Options]) -> int:
    """Print the completions for one shell."""
    shtab = _library()
    text: str = shtab.complete(_all_commands(shtab), shell=session.args.shell)
    if session.console.as_json:
        session.console.object({"shell": session.args.shell, "completions": text})
    else:
        session.console.text(text, end="")
    return DONE


def _library() -> Any:
    try:
        import shtab
    except ImportError:
        raise SystemFailed(
            "completions need the shtab package",
            remedy='install it: python -m pip install "rtcsave[completions]"',
        ) from None
    return shtab


def _all_commands(shtab: Any) -> argparse.ArgumentParser:
    """One parser of all commands, as the library wants it; it parses nothing."""
    from rtcsave.cli.main import COMMANDS, module_of

    whole = argparse.ArgumentParser(prog="rtcsave", description="Clocks in saves of cartridges.")
    whole.add_argument("--version", action="store_true", help="the version")
    commands = whole.add_subparsers()
    for name, command in COMMANDS.items():
        parser = commands.add_parser(name, help=command.about, description=command.about)
        module_of(name).arguments(parser)
        add_common(parser)
        _complete(parser._actions, shtab)
    return whole


def _complete(actions: Iterable[Any], shtab: Any) -> None:
    """Say of each argument what completes it."""
    for action in actions:
        metavar = str(action.metavar or "")
        words = getattr(action.type, "words", None) or _WORDS.get(metavar)
        if words is not None:
            action.choices = tuple(words)
        elif metavar == "FOLDER":
            action.complete = shtab.DIRECTORY
        elif metavar.partition(".")[0] in _FILES or "." in metavar:
            action.complete = shtab.FILE
        if action.help is not None:
            action.help = action.help.replace("%", "%%")
