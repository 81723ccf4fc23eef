"""Where a save was read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from rtcsave.stamps import FIRST_DATE_S, LAST_DATE_S
from rtcsave.when import utc_datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a save was read: the whole path, a SHA-256 digest of the file, and its file time.

    `modified_ns` is that time in Unix nanoseconds, as the system gives it.
    """

    path: str
    """The whole path."""
    digest: str
    """The SHA-256 digest of the file, in hexadecimal."""
    modified_ns: int

    @property
    def modified_s(self) -> int:
        """The file time in Unix seconds, its fraction cut off; 0 for what no date can hold."""
        unix_s = self.modified_ns // 10**9
        return unix_s if FIRST_DATE_S <= unix_s <= LAST_DATE_S else 0

    @property
    def modified_at(self) -> datetime:
        """The file time as an aware UTC datetime, to the second."""
        return utc_datetime(self.modified_s)
