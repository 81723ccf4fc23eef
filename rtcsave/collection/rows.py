"""One row of a survey: what is known of one file. What is dear is worked out when asked."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from rtcsave.clocks import Clock
from rtcsave.errors import RtcSaveError
from rtcsave.findings import Finding, Severity, rank_of
from rtcsave.layouts import ClockBlock, Layout
from rtcsave.layouts.sized import sized_block
from rtcsave.savefile.present import clock_now, overflow_at
from rtcsave.units import DAY_S
from rtcsave.when import utc_datetime


class SurveyRow(NamedTuple):
    """One file of a survey: its clock, what was found, or why nothing is known of it.

    Its bytes are kept as they are; the clock and all that follows from it are made when asked. `error` says
    in words why a file could not be read or understood, and `error_name` is the name of that error's class;
    the findings may say more.
    """

    path: str
    """The path, as it was found."""
    memory_bytes: int | None = None
    """The length of the memory image, 0 for a standalone block; None for what is no save."""
    block_layout: Layout | None = None
    """The layout of the clock block, None for an image alone and for what is no save."""
    block_raw: bytes = b""
    """The bytes of the clock block."""
    findings: tuple[Finding, ...] = ()
    """What was found, as `examine` gives it."""
    error: str | None = None
    error_name: str | None = None
    now_s: int = 0
    """The Unix second for which the row was made."""

    @classmethod
    def of_error(cls, path: str, error: RtcSaveError, now_s: int) -> SurveyRow:
        """The row of a file that an error stopped."""
        return cls(path=path, error=str(error), error_name=type(error).__name__, now_s=now_s)

    @property
    def block(self) -> ClockBlock | None:
        """The clock block, None for an image alone and for what is no save."""
        layout = self.block_layout
        return None if layout is None else sized_block(layout, self.block_raw)

    @property
    def layout(self) -> str | None:
        """The name of the clock block's layout."""
        return None if self.block_layout is None else self.block_layout.name

    @property
    def clock(self) -> Clock | None:
        """The running clock as it was saved."""
        block = self.block
        return None if block is None else block.running

    @property
    def stamp(self) -> int | None:
        """The raw stamp."""
        block = self.block
        return None if block is None else block.stamp

    @property
    def saved_at(self) -> datetime | None:
        """The instant of a usable stamp, None for any other."""
        block = self.block
        unix_s = None if block is None else block.usable_unix_s
        return None if unix_s is None else utc_datetime(unix_s)

    @property
    def clock_now(self) -> Clock | None:
        """The running clock as it shows now; None where the stamp cannot say."""
        counted = clock_now(self.block, self.now_s)
        return None if counted is None else counted[0]

    @property
    def overflow_at(self) -> datetime | None:
        """When the counter next overflows; None if never, or where the stamp cannot say."""
        at_s = overflow_at(self.block, self.now_s)
        return None if at_s is None else utc_datetime(at_s)

    @property
    def days_to_overflow(self) -> int | None:
        """Whole days from now until the counter next overflows, None as `overflow_at`."""
        at_s = overflow_at(self.block, self.now_s)
        return None if at_s is None else (at_s - self.now_s) // DAY_S

    @property
    def worst(self) -> Severity | None:
        """The severity of the worst finding, None for none; a file with an error has `error`."""
        if self.error is not None:
            return "error"
        if not self.findings:
            return None
        return max((finding.severity for finding in self.findings), key=rank_of)

    def __repr__(self) -> str:
        what = self.error or self.worst or "healthy"
        clock = "" if self.clock is None else f", {self.clock.reading()}"
        return f"<SurveyRow {self.path}: {what[:60]}{clock}>"


def said_now(row: SurveyRow) -> str:
    """What the clock of a row shows now, in words; nothing for a row without a clock."""
    now = row.clock_now
    return "" if row.block_layout is None else "unknown" if now is None else now.reading()


def said_codes(row: SurveyRow) -> str:
    """The codes of a row's findings, each once."""
    return ", ".join(dict.fromkeys(finding.code for finding in row.findings))


_new = tuple.__new__


def healthy_row(path: str, memory_bytes: int, layout: Layout, raw: bytes, now_s: int) -> SurveyRow:
    """The row of a healthy save, made directly: there are very many of them."""
    return _new(SurveyRow, (path, memory_bytes, layout, raw, (), None, None, now_s))
