"""A result on standard output, in the place of a file."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from rtcsave.cli.console import output_is_closed, silence_output
from rtcsave.errors import SystemFailed
from rtcsave.storage.changes import Change
from rtcsave.storage.system import system_failed


def to_stream(data: bytes, others: Sequence[Change]) -> None:
    """Write bytes to standard output; `SystemFailed` says what was written beside it, if it fails."""
    if output_is_closed():
        raise SystemFailed(
            "standard output is closed",
            remedy=_others_said(others) or "nothing was written; send it to a file, or name one",
        )
    try:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    except OSError as error:
        silence_output()
        failed = system_failed(error, "standard output cannot be written", "")
        failed.remedy = _others_said(others) or "the file that was read is as it was"
        raise failed from error


def _others_said(others: Sequence[Change]) -> str:
    """What was written beside a stream that failed."""
    return ", ".join(f"{change.path} was written" for change in others)
