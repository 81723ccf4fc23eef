"""Instants, durations and zones, as people type and read them.

Inside, an instant is a whole number of Unix seconds and a duration a whole number of seconds.
RFC 3339 names the form of an instant, ISO 8601 that of a duration. pendulum is loaded only where
a zone by name is asked for.
"""

from __future__ import annotations

import math
import re
import time
from datetime import datetime, timedelta, timezone, tzinfo
from typing import Final

from rtcsave.errors import BadArgument, SystemFailed, shown
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


def compact_utc(unix_s: int) -> str:
    """A Unix second in the basic form of ISO 8601, legal in file names: 20260310T141500Z."""
    return f"{utc_datetime(unix_s):%Y%m%dT%H%M%SZ}"


_INSTANT: Final = (
    r"(?P<date>\d{4}-\d{2}-\d{2})[Tt ]"
    r"(?P<hour>\d{2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,](?P<fraction>\d+))?)?"
    r" ?(?P<zone>[Zz]|UTC|[+-]\d{2}:\d{2})?"
)
_DATE_ONLY: Final = r"\d{4}-\d{2}-\d{2}"


def _text(value: object) -> str:
    if isinstance(value, str):
        return value
    raise BadArgument("this is not text", found=shown(value), expected="what a person types")


def parse_instant(text: str, now: int | None = None) -> int:
    """The instant that a person typed, in Unix seconds.

    RFC 3339 (`2026-03-10T14:15:00+01:00`; a blank for the T and missing seconds are taken too),
    `now`, or `@` and Unix seconds. A text without a zone, and anything else, raises `BadArgument`.
    A leap second counts as the second after it, as POSIX has it.
    """
    held = _text(text).strip()
    if held.lower() == "now":
        return now_or(now)
    seconds = re.fullmatch(r"@(-?\d{1,17})(?:\.(\d+))?", held)
    if seconds:
        below = 1 if seconds[1].startswith("-") and (seconds[2] or "").strip("0") else 0
        unix_s = int(seconds[1]) - below
        if rfc3339(unix_s) is None:
            raise BadArgument(
                "no date can hold this instant",
                found=shown(text),
                expected="a year from 1 to 9999",
                remedy="Unix seconds have ten digits these days; milliseconds have thirteen",
            )
        return unix_s
    match = re.fullmatch(_INSTANT, held)
    if match is None:
        remedy = (
            "write it as 2026-03-10T14:15:00Z or 2026-03-10T15:15:00+01:00, now, "
            "or @ and Unix seconds"
        )
        if re.fullmatch(_DATE_ONLY, held):
            remedy = f"give the time of day and the zone too, as in {held}T00:00:00Z"
        elif re.fullmatch(r"-?\d{6,}", held):
            remedy = f"write Unix seconds as @{held}"
        raise BadArgument("this is not an instant", found=shown(text), remedy=remedy)
    if match["zone"] is None:
        raise BadArgument(
            "the instant has no zone",
            found=shown(text),
            remedy=f"add Z for UTC or an offset: {held}Z or {held}+01:00",
        )
    zone = "+00:00" if match["zone"] in ("Z", "z", "UTC") else match["zone"]
    leap = match["second"] == "60"
    second = "59" if leap else match["second"] or "00"
    try:
        moment = datetime.fromisoformat(
            f"{match['date']}T{match['hour']}:{match['minute']}:{second}{zone}"
        )
        whole = unix_seconds(moment)
    except ValueError as error:
        raise BadArgument("there is no such instant", found=f"{shown(text)} ({error})") from None
    if leap and whole % DAY_S != DAY_S - 1:
        raise BadArgument(
            "there is no such instant",
            found=shown(text),
            expected="a leap second only at 23:59:60 UTC",
        )
    return whole + leap


_ISO_DURATION: Final = (
    r"P(?=.)(?:(?P<w>\d{1,12})W)?(?:(?P<d>\d{1,12})D)?"
    r"(?:T(?=.)(?:(?P<h>\d{1,12})H)?(?:(?P<m>\d{1,12})M)?(?:(?P<s>\d{1,16})S)?)?"
)
_SHORT_DURATION: Final = (
    r"(?=.)(?:(?P<w>\d{1,12})w)? ?(?:(?P<d>\d{1,12})d)? ?(?:(?P<h>\d{1,12})h)? ?"
    r"(?:(?P<m>\d{1,12})m(?:in)?)? ?(?:(?P<s>\d{1,16})s)?"
)
_UNITS: Final = (("w", 7 * DAY_S), ("d", DAY_S), ("h", HOUR_S), ("m", MINUTE_S), ("s", 1))


def parse_duration(text: str) -> int:
    """The duration that a person typed, in whole seconds; a sign may stand before it.

    ISO 8601 in weeks, days, hours, minutes and seconds (`PT90M`, `P3DT4H`, `P7W`) or short
    (`90m`, `3d4h`). Years and months have no fixed length and fractions are not whole seconds:
    both raise `BadArgument`, and so does a bare number, which has no unit.
    """
    held = _text(text).strip()
    sign = -1 if held[:1] in ("-", "\N{MINUS SIGN}") else 1
    bare = held.lstrip("+-\N{MINUS SIGN}") if held[:1] in "+-\N{MINUS SIGN}" else held
    if len(held) - len(bare) > 1:
        bare = ""
    match = re.fullmatch(_ISO_DURATION, bare.upper()) if bare[:1] in ("P", "p") else None
    match = match or re.fullmatch(_SHORT_DURATION, bare.lower())
    if match is None or not any(match.groupdict().values()):
        remedy = "write it as 90m, 3d4h, PT90M or P3DT4H, in whole numbers"
        if re.fullmatch(r"\d+", bare):
            remedy = f"say the unit: {bare}s, {bare}m, {bare}h or {bare}d"
        elif re.match(r"P\d+[YM]", bare.upper()):
            remedy = "years and months have no fixed length: say it in days, as in P365D"
        raise BadArgument("this is not a duration", found=shown(text), remedy=remedy)
    return sign * sum(int(match[unit] or 0) * seconds for unit, seconds in _UNITS)


_CLOCK_TIMES: Final = (
    r"(?P<day>\d{1,4})[dD] ?(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2}))?",
    r"(?P<year>\d{2}|\d{4})-(?P<month>\d{2})-(?P<day>\d{2})[ T]"
    r"(?P<hour>\d{2}):(?P<minute>\d{2})(?::(?P<second>\d{2}))?",
)


def parse_clock_time(text: str) -> dict[str, int]:
    """A time that a clock shows, by its parts: `12d03:04:05`, `12d03:04`, or `26-03-10 14:15:00`."""
    for form in _CLOCK_TIMES:
        match = re.fullmatch(form, _text(text).strip())
        if match is not None:
            parts = {name: int(value or 0) for name, value in match.groupdict().items()}
            for name, proper in (("hour", 24), ("minute", 60), ("second", 60)):
                if parts[name] >= proper:
                    raise BadArgument(
                        f"{name}s past their proper range",
                        found=shown(text),
                        expected=f"0 to {proper - 1}",
                    )
            return parts
    raise BadArgument(
        "this is not a clock's reading",
        found=shown(text),
        expected="days, then the time of day, as in 12d03:04:05; for a calendar clock 26-03-10 "
        "14:15:00",
    )


def parse_reading_s(text: str) -> int:
    """A day counter's reading that a person typed, `12d03:04:05`, in seconds since day 0."""
    parts = parse_clock_time(text)
    if "year" in parts:
        raise BadArgument("this is a date, and no day counter's reading", found=shown(text))
    return (
        parts["day"] * DAY_S + parts["hour"] * HOUR_S + parts["minute"] * MINUTE_S + parts["second"]
    )


def say_span(seconds: int) -> str:
    """A number of seconds for people: `260 days 19 h 46 min 5 s`; its sign stands before it."""
    days, rest = divmod(abs(seconds), DAY_S)
    hours, rest = divmod(rest, HOUR_S)
    minutes, rest = divmod(rest, MINUTE_S)
    parts = [f"{days:,} day{'s' if days != 1 else ''}"] if days else []
    parts += [f"{n} {unit}" for n, unit in ((hours, "h"), (minutes, "min"), (rest, "s")) if n]
    return ("-" if seconds < 0 else "") + (" ".join(parts) or "0 s")


def whole_number(value: object, name: str) -> int:
    """Return a whole number; `BadArgument` for anything else."""
    if type(value) is int:
        return value
    raise BadArgument(f"{name} is a whole number", found=shown(value), expected="an int")


Zone = str | tzinfo
"""A zone: its IANA name, or a `ZoneInfo` or pendulum zone of that name."""


def check_zone(zone: Zone) -> str:
    """Return the name of an IANA zone, or of UTC; `BadArgument` with the nearest if unknown.

    The zone database is the system's, or else that of the tzdata package, which is always installed;
    where there is neither, that is said (`SystemFailed`).
    """
    name = getattr(zone, "key", None) or getattr(zone, "name", None) or zone
    if not isinstance(name, str):
        raise BadArgument(
            "this is no zone",
            found=shown(zone),
            expected="an IANA name, or a ZoneInfo that has one",
        )
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        from difflib import get_close_matches
        from zoneinfo import available_timezones

        by_lower = {zone.lower(): zone for zone in available_timezones()}
        if not by_lower:
            raise SystemFailed(
                "this system has no zone database",
                where=name,
                remedy="install it: python -m pip install tzdata",
            ) from None
        near = [by_lower[key] for key in get_close_matches(name.lower(), by_lower, n=1)]
        raise BadArgument(
            "this zone is not in the IANA database",
            found=shown(name),
            remedy=f"did you mean {near[0]}?" if near else "write it as Europe/Lisbon or UTC",
        ) from None
    return name


def say_instant(unix_s: int, zone: str | None = None) -> str:
    """An instant for people, to the second: in UTC, or in an IANA zone with its offset.

    What no date can hold is said as Unix seconds.
    """
    if rfc3339(unix_s) is None:
        return f"Unix second {unix_s}"
    if zone is None:
        moment = utc_datetime(unix_s)
        return f"{moment.year:04d}-{moment:%m-%d %H:%M:%S} UTC"
    import pendulum

    try:
        local = pendulum.from_timestamp(unix_s, tz=zone)
    except (OverflowError, ValueError):
        return say_instant(unix_s)
    return local.format("YYYY-MM-DD HH:mm:ss Z") + f" {zone}"


def local_wall_to_unix(wall_s: int) -> int | None:
    """The Unix second at which this computer's wall clock shows what `wall_s` shows in UTC.

    None where the system cannot tell. In the hour that a zone goes through twice, the first.
    """
    try:
        moment = utc_datetime(wall_s).replace(tzinfo=None)
        return unix_seconds(moment.astimezone(timezone.utc))
    except (OverflowError, ValueError, OSError):
        return None


# Zones whose daylight saving stands for most of the world's: an hour in the north and in the
# south, half an hour, and an hour off the quarter hour (IANA tz).
_CHANGING_ZONES: Final = (
    "Europe/London",
    "America/New_York",
    "Australia/Sydney",
    "America/Santiago",
    "Australia/Lord_Howe",
    "Pacific/Chatham",
)


def zone_offset_s(zone: Zone, unix_s: int) -> int:
    """The offset of an IANA zone from UTC at an instant, in seconds, from the zone database.

    `BadArgument` for an unknown zone, and for an instant that no date can hold.
    """
    name = check_zone(zone)
    try:
        return wall_of_unix(unix_s, name) - unix_s
    except OverflowError:
        raise BadArgument("no date can hold the instant", found=f"Unix second {unix_s}") from None


def wall_of_unix(unix_s: int, zone: str) -> int:
    """What the wall clock of a zone shows at a Unix second, counted as if it were UTC."""
    import pendulum

    try:
        local = pendulum.from_timestamp(unix_s, tz=zone)
    except ValueError as error:  # a date past the last one
        raise OverflowError(str(error)) from None
    offset = local.utcoffset()
    assert offset is not None
    return unix_s + offset.days * DAY_S + offset.seconds


def unix_of_wall(wall_s: int, zone: str) -> int:
    """The Unix second at which the wall clock of a zone shows that; in an hour that comes twice, the first.

    What no date can hold is taken for UTC.
    """
    import pendulum

    try:
        wall = utc_datetime(wall_s)
        local = pendulum.datetime(
            wall.year, wall.month, wall.day, wall.hour, wall.minute, wall.second, tz=zone, fold=0
        )
        return unix_seconds(local)
    except (OverflowError, ValueError):
        return wall_s


def zones_that_changed(from_s: int, to_s: int, change_s: int) -> tuple[str, ...]:
    """Well-known zones whose offset grew by that much between two instants."""
    if not -2 * HOUR_S <= change_s <= 2 * HOUR_S:
        return ()
    try:
        return tuple(
            zone
            for zone in _CHANGING_ZONES
            if zone_offset_s(zone, to_s) - zone_offset_s(zone, from_s) == change_s
        )
    except BadArgument:  # no zone has an offset at the end of all dates
        return ()


_SHOWN: Final = (
    r"(?:(?P<weekday>mon|tue|wed|thu|fri|sat|sun)[a-z]*,? )?"
    r"(?P<h>\d{1,2}):(?P<m>\d{2})(?::(?P<s>\d{2}))?(?: ?(?P<half>[ap])m)?"
)
_WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def parse_time_of_day(text: str) -> tuple[int | None, int, int]:
    """A time as a game shows it: weekday (0 is Monday) or None, seconds of the day, resolution.

    `13:52`, `13:52:07`, `1:52 pm`, `Tue 23:50`. The resolution is 60 s where no seconds are shown.
    """
    match = re.fullmatch(_SHOWN, _text(text).strip().lower())
    if match is None:
        raise BadArgument(
            "this is not a time of day",
            found=shown(text),
            expected="13:52, 13:52:07 or with a weekday, as in 'Tue 23:50'",
        )
    hour, minute, second = int(match["h"]), int(match["m"]), int(match["s"] or 0)
    if match["half"]:
        if not 1 <= hour <= 12:
            raise BadArgument("there is no such hour", found=shown(text), expected="1 to 12")
        hour = hour % 12 + (12 if match["half"] == "p" else 0)
    if hour > 23 or minute > 59 or second > 59:
        raise BadArgument("there is no such time of day", found=shown(text))
    weekday = None if match["weekday"] is None else _WEEKDAYS.index(match["weekday"])
    return weekday, hour * HOUR_S + minute * MINUTE_S + second, 1 if match["s"] else MINUTE_S
