"""Changes of zones at their published instants."""

from __future__ import annotations

import pytest

from rtcsave import zone_shift
from rtcsave.when import parse_instant, zone_offset_s


@pytest.mark.parametrize(
    ("zone", "instant", "before", "after"),
    [
        ("Europe/London", "2024-03-31T01:00:00Z", 0, 3_600),
        ("Europe/London", "2024-10-27T01:00:00Z", 3_600, 0),
        ("America/New_York", "2024-03-10T07:00:00Z", -18_000, -14_400),
        ("America/New_York", "2024-11-03T06:00:00Z", -14_400, -18_000),
        ("Australia/Lord_Howe", "2024-04-06T15:00:00Z", 39_600, 37_800),
        ("Australia/Lord_Howe", "2024-10-05T15:30:00Z", 37_800, 39_600),
        ("Pacific/Chatham", "2024-04-06T14:00:00Z", 49_500, 45_900),
        ("Pacific/Chatham", "2024-09-28T14:00:00Z", 45_900, 49_500),
        # RFC 5545 section 3.6.5
        ("America/New_York", "1986-04-27T07:00:00Z", -18_000, -14_400),
        ("America/New_York", "2006-04-02T07:00:00Z", -18_000, -14_400),
        ("America/New_York", "2006-10-29T06:00:00Z", -14_400, -18_000),
    ],
)
def test_a_zone_changes_at_that_second(zone: str, instant: str, before: int, after: int) -> None:
    """IANA time zone database, 2025b; RFC 5545, section 3.6.5: New York, 1986 and 2006."""
    at = parse_instant(instant)
    assert zone_offset_s(zone, at - 1) == before
    assert zone_offset_s(zone, at) == after


def test_a_shift_between_zones() -> None:
    """IANA time zone database, 2025b: Kathmandu has been +05:45 since 1986."""
    summer, winter = parse_instant("2024-07-01T00:00:00Z"), parse_instant("2024-12-01T00:00:00Z")
    assert zone_shift("Europe/London", "Asia/Kathmandu", winter) == 20_700
    assert zone_shift("Europe/London", "Asia/Kathmandu", summer) == 17_100
    assert zone_shift("Asia/Kathmandu", "Europe/London", summer) == -17_100
