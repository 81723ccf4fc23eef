"""Instants and spans as numbers: whole Unix seconds, whole seconds."""

from __future__ import annotations

import math
import time
from datetime import datetime, timedelta, timezone
from typing import Final

from rtcsave.errors import BadArgument, shown
from rtcsave.units import DAY_S, HOUR_S, MINUTE_S

_EPOCH_ORDINAL: Final = datetime(1970, 1, 1).toordinal()


_FARTHEST_S: Final = 10**17
"""Three billion years: no instant is farther from 1970."""


_EPOCH: Final = datetime(1970, 1, 1, tzinfo=timezone.utc)


Instant = datetime | int | float
"""An instant: an aware `datetime` (a pendulum `DateTime` too), or finite Unix seconds."""


Seconds = int | timedelta
"""A span: whole seconds, or a `timedelta` of whole seconds (no pendulum `Duration` of months)."""


def present_s() -> int:
    """The present, in whole Unix seconds."""
    return int(time.time() // 1)


def unix_seconds(instant: object, name: str = "instant") -> int:
    """An aware datetime or finite Unix seconds, as whole Unix seconds; fractions cut off downward.

    A naive datetime, a bool or anything else raises `BadArgument`.
    """
    if type(instant) is float and math.isfinite(instant):
        instant = math.floor(instant)
    if type(instant) is int:
        if abs(instant) <= _FARTHEST_S:
            return instant
        raise BadArgument(f"{name} is farther away than any clock counts", found=shown(instant))
    if not isinstance(instant, datetime):
        raise BadArgument(
            f"{name} is not an instant",
            found=f"{shown(instant)} ({type(instant).__name__})",
            expected="an aware datetime or finite Unix seconds",
        )
    offset = instant.utcoffset()
    if offset is None:
        raise BadArgument(
            f"{name} has no zone",
            found=repr(instant),
            expected="an aware datetime",
            remedy="say which zone it is in, as in datetime(..., tzinfo=timezone.utc)",
        )
    local_s = (
        (instant.toordinal() - _EPOCH_ORDINAL) * DAY_S
        + instant.hour * HOUR_S
        + instant.minute * MINUTE_S
        + instant.second
    )
    micros = (offset.days * DAY_S + offset.seconds) * 1_000_000 + offset.microseconds
    return (local_s * 1_000_000 + instant.microsecond - micros) // 1_000_000


def exact_seconds(instant: object, name: str = "instant") -> tuple[int, float]:
    """An instant as whole Unix seconds, as `unix_seconds`, and the fraction of a second after them."""
    whole_s = unix_seconds(instant, name)
    if isinstance(instant, float):
        return whole_s, instant - whole_s
    if isinstance(instant, datetime):
        offset = instant.utcoffset()
        offset_micros = 0 if offset is None else offset.microseconds
        return whole_s, (instant.microsecond - offset_micros) % 1_000_000 / 1_000_000
    return whole_s, 0.0


def span_seconds(value: object, name: str = "seconds") -> int:
    """Whole seconds, or a `timedelta` of such, as whole seconds; `BadArgument` for anything else.

    A pendulum `Duration` of years or months has no fixed length and is refused.
    """
    if type(value) is int:
        return value
    if isinstance(value, timedelta):
        if getattr(value, "years", 0) or getattr(value, "months", 0):
            raise BadArgument(
                f"{name} must have a fixed length",
                found=shown(value),
                expected="no years and no months",
                remedy="say it in days",
            )
        if not value.microseconds:
            return value.days * DAY_S + value.seconds
    raise BadArgument(
        f"{name} must be a whole number",
        found=f"{shown(value)} ({type(value).__name__})",
        expected="an int, or a timedelta of whole seconds",
    )


def whole_number(value: object, name: str) -> int:
    """Return a whole number; `BadArgument` for anything else."""
    if type(value) is int:
        return value
    raise BadArgument(f"{name} is a whole number", found=shown(value), expected="an int")


def now_or(now: object) -> int:
    """`now` as Unix seconds, the present where it is None."""
    return present_s() if now is None else unix_seconds(now, "now")


def utc_datetime(unix_s: int) -> datetime:
    """The aware UTC datetime of a Unix second that a date can hold."""
    return _EPOCH + timedelta(seconds=unix_s)


def rfc3339(unix_s: int | None) -> str | None:
    """A Unix second as RFC 3339 in UTC; None for None and for what no date can hold."""
    if unix_s is None:
        return None
    try:
        moment = utc_datetime(unix_s)
    except OverflowError:
        return None
    return f"{moment.year:04d}-{moment:%m-%dT%H:%M:%S}Z"


def dated(unix_s: int | None) -> str | None:
    """A Unix second for people, in UTC (`2026-03-10 14:15:00 UTC`); None as `rfc3339`."""
    said = rfc3339(unix_s)
    return None if said is None else f"{said[:-1].replace('T', ' ')} UTC"


def compact_utc(unix_s: int) -> str:
    """A Unix second in the basic form of ISO 8601, legal in file names: 20260310T141500Z."""
    return f"{utc_datetime(unix_s):%Y%m%dT%H%M%SZ}"
