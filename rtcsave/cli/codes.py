"""Exit codes, and how an error becomes one."""

from __future__ import annotations

from rtcsave.errors import BadArgument, Refused, RtcSaveError

TYPE_CHECKING = False
if TYPE_CHECKING:  # help needs no types, and they take a fifth of a start
    from typing import Final

DONE: Final = 0
FOUND: Final = 1
WRONG_USAGE: Final = 2
FAILED: Final = 3
REFUSED: Final = 4
INTERRUPTED: Final = 130


class WrongUsage(BadArgument):
    """The words of the command line are not those that the command takes."""


def exit_code(error: RtcSaveError) -> int:
    """The exit code for an error: wrong usage, could not, or refused."""
    if isinstance(error, BadArgument):
        return WRONG_USAGE
    return REFUSED if isinstance(error, Refused) else FAILED


def error_json(path: str | None, error: RtcSaveError, message: str) -> dict[str, str | None]:
    """An error as the JSON keys have it."""
    return {"path": path, "error": type(error).__name__, "message": message}
