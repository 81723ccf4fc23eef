"""Zones by name, and what people read: instants in a zone, spans. The only importer of pendulum.

pendulum is loaded only where a zone is asked for.
"""

from __future__ import annotations

import re
from datetime import timezone, tzinfo
from typing import Final

from rtcsave.errors import BadArgument, SystemFailed, shown
from rtcsave.units import DAY_S, HOUR_S, MINUTE_S
from rtcsave.when.instants import dated, unix_seconds, utc_datetime

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
        _refuse_offset(name)
        from difflib import get_close_matches
        from zoneinfo import available_timezones

        by_lower = {zone.lower(): zone for zone in available_timezones()}
        if not by_lower:
            raise SystemFailed(
                "this system has no zone database",
                where=name,
                remedy="install it: python -m pip install tzdata",
            ) from None
        from tzlocal.windows_tz import win_tz

        near = [by_lower[key] for key in get_close_matches(name.lower(), by_lower, n=1)]
        remedy = f"did you mean {near[0]}?" if near else "write it as Europe/Lisbon or UTC"
        if name in win_tz:
            remedy = f"that is the name on Windows: write it as {win_tz[name]}"
        raise BadArgument(
            "this zone is not in the IANA database", found=shown(name), remedy=remedy
        ) from None
    return name


_OFFSET: Final = (
    r"(?:UTC|GMT)? ?(?P<sign>[+\N{MINUS SIGN}-])(?P<hours>\d{1,2})(?::?(?P<minutes>[0-5]\d))?"
)
_MOST_HOURS: Final = {"+": 14, "-": 12}
"""The most whole hours, by sign, for which the IANA database has a zone of a fixed offset from UTC."""


def _refuse_offset(name: str) -> None:
    """Raise `BadArgument` for an offset from UTC in place of a zone, with the zone that it means."""
    match = re.fullmatch(_OFFSET, name.strip(), re.IGNORECASE)
    if match is None:
        return
    sign = "+" if match["sign"] == "+" else "-"
    hours, minutes = int(match["hours"]), int(match["minutes"] or 0)
    remedy = "name the zone of a place, as in Europe/Lisbon"
    if hours == minutes == 0:
        remedy = "write UTC"
    elif not minutes and hours <= _MOST_HOURS[sign]:
        way = "plus" if sign == "+" else "minus"
        fixed = f"Etc/GMT{'-' if sign == '+' else '+'}{hours}"
        remedy = (
            f"write {fixed} for UTC {way} {hours} h all year (its sign is reversed), or {remedy}"
        )
    raise BadArgument("this is an offset from UTC, not a zone", found=shown(name), remedy=remedy)


_SUMMER_ZONES: Final = {"EST": "America/New_York", "MST": "America/Denver"}
"""Zones of a fixed offset that people name for one with summer time, and that one (IANA tz)."""


def fixed_offset_words(zone: str, unix_s: int) -> str | None:
    """What a zone means whose name says less than people think; None for any other zone.

    >>> fixed_offset_words("EST", 1_773_152_100)
    'EST is UTC-05:00 all year, without summer time; with it: America/New_York'
    """
    summer = _SUMMER_ZONES.get(zone)
    reversed_sign = re.fullmatch(r"(?:Etc/)?GMT[+-][1-9]\d?", zone) is not None
    if summer is None and not reversed_sign:
        return None
    offset_s = zone_offset_s(zone, unix_s)
    minutes = abs(offset_s) // MINUTE_S
    offset = f"UTC{'-' if offset_s < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"
    if summer is not None:
        return f"{zone} is {offset} all year, without summer time; with it: {summer}"
    return f"{zone} is {offset} all year: the sign in its name is reversed"


def say_span(seconds: int, *, signed: bool = False) -> str:
    """A number of seconds for people: `260 days 19 h 46 min 5 s`.

    A minus comes before the whole: `-90` is `-(1 min 30 s)`. `signed` adds a plus where nothing is negative.
    """
    days, rest = divmod(abs(seconds), DAY_S)
    hours, rest = divmod(rest, HOUR_S)
    minutes, rest = divmod(rest, MINUTE_S)
    parts = [f"{days:,} day{'s' if days != 1 else ''}"] if days else []
    parts += [f"{n} {unit}" for n, unit in ((hours, "h"), (minutes, "min"), (rest, "s")) if n]
    text = " ".join(parts) or "0 s"
    if seconds < 0:
        return f"-({text})" if len(parts) > 1 else f"-{text}"
    return f"+{text}" if signed and seconds else text


def say_instant(unix_s: int, zone: str | None = None) -> str:
    """An instant for people, to the second: in UTC, or in an IANA zone with its offset.

    What no date can hold is said as Unix seconds.
    """
    said = dated(unix_s)
    if said is None:
        return f"Unix second {unix_s}"
    if zone is None:
        return said
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


# Zones whose daylight saving is that of most others: an hour in the north and in the
# south, half an hour, and an hour off the quarter hour (IANA tz).
_CHANGING_ZONES: Final = (
    "Europe/London",
    "America/New_York",
    "Australia/Sydney",
    "America/Santiago",
    "Australia/Lord_Howe",
    "Pacific/Chatham",
)


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
