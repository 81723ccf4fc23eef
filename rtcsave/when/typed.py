"""What people type: instants, durations, readings of clocks, times of day.

RFC 3339 names the form of an instant, ISO 8601 that of a duration.
"""

from __future__ import annotations

import re
from datetime import datetime
from typing import Final

from rtcsave.errors import BadArgument, shown
from rtcsave.units import DAY_S, HOUR_S, MINUTE_S
from rtcsave.when.instants import now_or, rfc3339, unix_seconds

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


def _at_seconds(typed: str, text: str) -> int | None:
    """The instant of `@` and Unix seconds, None for another text."""
    seconds = re.fullmatch(r"@(-?\d{1,17})(?:\.(\d+))?", typed)
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
    return None


def _no_instant(typed: str, text: str) -> BadArgument:
    """The error for a text that is no instant, with the nearest way to write one."""
    remedy = (
        "write it as 2026-03-10T14:15:00Z or 2026-03-10T15:15:00+01:00, now, or @ and Unix seconds"
    )
    if re.fullmatch(_DATE_ONLY, typed):
        remedy = f"give the time of day and the zone too, as in {typed}T00:00:00Z"
    elif re.fullmatch(r"-?\d{6,}", typed):
        remedy = f"write Unix seconds as @{typed}"
    return BadArgument("this is not an instant", found=shown(text), remedy=remedy)


def parse_instant(text: str, now: int | None = None) -> int:
    """The instant that a person typed, in Unix seconds.

    RFC 3339 (`2026-03-10T14:15:00+01:00`; a blank for the T and missing seconds are taken too),
    `now`, or `@` and Unix seconds. A text without a zone, and anything else, raises `BadArgument`.
    A leap second counts as the second after it, as POSIX has it.
    """
    typed = _text(text).strip()
    if typed.lower() == "now":
        return now_or(now)
    if typed.startswith("@"):
        at = _at_seconds(typed, text)
        if at is not None:
            return at
    match = re.fullmatch(_INSTANT, typed)
    if match is None:
        raise _no_instant(typed, text)
    if match["zone"] is None:
        raise BadArgument(
            "the instant has no zone",
            found=shown(text),
            remedy=f"add Z for UTC or an offset: {typed}Z or {typed}+01:00",
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
    """The duration that a person typed, in whole seconds; a sign may come before it.

    ISO 8601 in weeks, days, hours, minutes and seconds (`PT90M`, `P3DT4H`, `P7W`) or short
    (`90m`, `3d4h`). Years and months have no fixed length and fractions are not whole seconds:
    both raise `BadArgument`, and so does a number without a unit.
    """
    typed = _text(text).strip()
    sign = -1 if typed[:1] in ("-", "\N{MINUS SIGN}") else 1
    bare = typed.lstrip("+-\N{MINUS SIGN}") if typed[:1] in "+-\N{MINUS SIGN}" else typed
    if len(typed) - len(bare) > 1:
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
                        f"{name}s out of range",
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
            expected='13:52, 13:52:07 or with a weekday, as in "Tue 23:50"',
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
