"""What was typed, with types: the options that every command has, and those that several share.

The classes declare types only: making dataclasses would take longer than most commands.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import argparse


class CommonOptions:
    """The options of every command."""

    json: bool
    now: str | None
    layout: str | None


class WritingOptions(CommonOptions):
    """The options of every command that writes."""

    output: str | None
    overwrite: bool
    dry_run: bool
    no_backup: bool
    keep: int | None


class CellOptions(CommonOptions):
    """What is known of a cell."""

    cell: str | None
    current_ua: float | None
    fitted: str | None


T = TypeVar("T", bound=CommonOptions)


def given(kind: type[T], parsed: argparse.Namespace) -> T:
    """The options of a command, of what its parser found: the class says what they are."""
    options = kind()
    vars(options).update(vars(parsed))
    return options
