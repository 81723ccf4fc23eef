"""What was typed, with types: the options that every command has, and those that several share."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import argparse


@dataclass(kw_only=True, repr=False, eq=False)  # made at every start: no method more
class CommonOptions:
    """The options of every command."""

    json: bool
    now: str | None
    layout: str | None


@dataclass(kw_only=True, repr=False, eq=False)  # made at every start: no method more
class WritingOptions(CommonOptions):
    """The options of every command that writes."""

    output: str | None
    overwrite: bool
    dry_run: bool
    no_backup: bool
    keep: int | None


@dataclass(kw_only=True, repr=False, eq=False)  # made at every start: no method more
class CellOptions(CommonOptions):
    """What is known of a cell."""

    cell: str | None
    current_ua: float | None
    fitted: str | None


T = TypeVar("T", bound=CommonOptions)


def given(kind: type[T], parsed: argparse.Namespace) -> T:
    """The options of a command, of what its parser found."""
    return kind(**{field.name: getattr(parsed, field.name) for field in fields(kind)})
