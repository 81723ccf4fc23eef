"""The library's messages in the words of the command: each parameter and call as its option."""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:  # help needs no types, and they take a fifth of a start
    import re
    from typing import Final

_OPTIONS: Final = {
    "LAYOUTS": "'rtcsave layouts'",
    "FINDINGS": "'rtcsave check --list'",
    "advance_by": "--by",
    "advance_to": "'rtcsave advance'",
    "allow_overflow": "--allow-overflow",
    "backups": "'rtcsave restore --list'",
    "backup=False": "--no-backup",
    "by_s": "--by",
    "candidates": "'rtcsave show --explain'",
    "carry=False": "'rtcsave set FILE --carry off'",
    "check": "'rtcsave check'",
    "describe": "'rtcsave layouts --new'",
    "different_memory": "--different-memory",
    "drop_latched": "--drop-latched",
    "drop_stamp": "--drop-stamp",
    "drop_unknown": "--drop-unknown",
    "examine": "'rtcsave check'",
    "file-time": "file-time",
    "keep": "--keep",
    "halt=False": "'rtcsave set FILE --halt off --stamp now'",
    "layout": "--layout",
    "only": "--only",
    "overwrite": "--overwrite",
    "past_range=zero": "--past-range zero",
    "plan_repair": "'rtcsave repair'",
    "saved_at": "--saved-at INSTANT",
    "slack_s": "--slack",
    "split": "'rtcsave convert --split'",
    "to": "--to",
    "with_time": "'rtcsave set FILE --time'",
    "within_s": "--within",
    "without_block": "'rtcsave convert --strip'",
}
"""The words in backquotes in the library's messages, and the option or command for each."""

_QUOTED: Final = r"`(also=)?([^`\s]+)`"


def in_options(text: str) -> str:
    """A message of the library with its parameters and calls as options and commands.

    What the table does not know stays as it is: it may be a file's name.
    """

    def option(match: re.Match[str]) -> str:
        if match[1]:
            return f"'rtcsave repair --also {match[2]}'"
        return _OPTIONS.get(match[2], match[0])

    if "`" not in text:
        return text
    import re

    return re.sub(_QUOTED, option, text)
