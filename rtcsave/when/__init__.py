"""Instants, durations and zones, as people type and read them.

Inside, an instant is a whole number of Unix seconds and a duration a whole number of seconds.
"""

from rtcsave.when.instants import (
    Instant,
    Seconds,
    compact_utc,
    dated,
    exact_seconds,
    now_or,
    present_s,
    rfc3339,
    span_seconds,
    unix_seconds,
    utc_datetime,
    whole_number,
)
from rtcsave.when.typed import (
    parse_clock_time,
    parse_duration,
    parse_instant,
    parse_reading_s,
    parse_time_of_day,
)
from rtcsave.when.zones import (
    Zone,
    check_zone,
    fixed_offset_words,
    local_wall_to_unix,
    say_instant,
    say_span,
    unix_of_wall,
    wall_of_unix,
    zone_offset_s,
    zones_that_changed,
)

__all__ = [
    "Instant",
    "Seconds",
    "Zone",
    "check_zone",
    "compact_utc",
    "dated",
    "exact_seconds",
    "fixed_offset_words",
    "local_wall_to_unix",
    "now_or",
    "parse_clock_time",
    "parse_duration",
    "parse_instant",
    "parse_reading_s",
    "parse_time_of_day",
    "present_s",
    "rfc3339",
    "say_instant",
    "say_span",
    "span_seconds",
    "unix_of_wall",
    "unix_seconds",
    "utc_datetime",
    "wall_of_unix",
    "whole_number",
    "zone_offset_s",
    "zones_that_changed",
]
