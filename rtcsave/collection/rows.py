"""One row of a survey: what is known of one file. What is dear is worked out when asked."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from rtcsave.clocks import Clock
from rtcsave.errors import RtcSaveError
from rtcsave.findings import Finding, Severity, rank_of
from rtcsave.layouts import ClockBlock
from rtcsave.savefile.present import clock_now, overflow_at
from rtcsave.units import DAY_S
from rtcsave.when import utc_datetime


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class SurveyRow:
    """One file of a survey: its clock, what was found, or why nothing is known of it.

    `block` is its clock block, None for an image alone and for what is no save. `error` says in words
    why a file could not be read or understood, and `error_name` is the name of that error's class; the
    findings may say more.
    """

    path: str
    """The path, as it was found."""
    memory_bytes: int | None = None
    """The length of the memory image, 0 for a standalone block; None for what is no save."""
    block: ClockBlock | None = None
    findings: tuple[Finding, ...] = ()
    """What was found, as `examine` gives it."""
    error: str | None = None
    error_name: str | None = None
    now_s: int = field(default=0, compare=False)
    """The Unix second for which the row was made."""

    @classmethod
    def of_error(cls, path: str, error: RtcSaveError, now_s: int) -> SurveyRow:
        """The row of a file that an error stopped."""
        return cls(path=path, error=str(error), error_name=type(error).__name__, now_s=now_s)

    @property
    def layout(self) -> str | None:
        """The name of the clock block's layout."""
        return None if self.block is None else self.block.layout.name

    @property
    def clock(self) -> Clock | None:
        """The running clock as it was saved."""
        return None if self.block is None else self.block.running

    @property
    def stamp(self) -> int | None:
        """The raw stamp."""
        return None if self.block is None else self.block.stamp

    @property
    def saved_at(self) -> datetime | None:
        """The instant of a usable stamp, None for any other."""
        unix_s = None if self.block is None else self.block.usable_unix_s
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
    return "" if row.block is None else "unknown" if now is None else now.reading()


def said_codes(row: SurveyRow) -> str:
    """The codes of a row's findings, each once."""
    return ", ".join(dict.fromkeys(finding.code for finding in row.findings))


_new = object.__new__
_set_path = SurveyRow.__dict__["path"].__set__
_set_memory_bytes = SurveyRow.__dict__["memory_bytes"].__set__
_set_block = SurveyRow.__dict__["block"].__set__
_set_findings = SurveyRow.__dict__["findings"].__set__
_set_error = SurveyRow.__dict__["error"].__set__
_set_error_name = SurveyRow.__dict__["error_name"].__set__
_set_now_s = SurveyRow.__dict__["now_s"].__set__


def healthy_row(path: str, memory_bytes: int, block: ClockBlock, now_s: int) -> SurveyRow:
    """The row of a healthy save, made directly: there are very many of them."""
    row = _new(SurveyRow)
    _set_path(row, path)
    _set_memory_bytes(row, memory_bytes)
    _set_block(row, block)
    _set_findings(row, ())
    _set_error(row, None)
    _set_error_name(row, None)
    _set_now_s(row, now_s)
    return row
